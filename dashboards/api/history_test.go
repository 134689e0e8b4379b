package api

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
)

// A finding that changed in a period is listed for it also where it changed again
// later, as it is told now; one that began later, or did not change then, is not.
func TestFindingsOfAPeriod(t *testing.T) {
	m, hub := planttest.NewMemory(), live.New(time.Millisecond, time.Minute)
	defer hub.Close()
	at := func(hour int) time.Time { return planttest.Now.Add(time.Duration(hour-24) * time.Hour) }
	newest := map[string]int64{}
	for _, v := range []struct {
		id, says string
		hour     int
	}{
		{"before", "told before", 2}, {"through", "first", 5}, {"closed", "in it", 6}, {"spans", "before it", 3},
		{"through", "as it is told now", 20}, {"spans", "after it", 21}, {"later", "began later", 22},
	} {
		body, err := json.Marshal(cause.Finding{ID: v.id, Gauge: "LG-901", Sentence: v.says})
		if err != nil {
			t.Fatal(err)
		}
		seq, err := m.Put(t.Context(), store.Document{Kind: plant.FindingKind, ID: v.id, Gauge: "LG-901", Time: at(v.hour), Replaces: newest[v.id], Body: body})
		if err != nil {
			t.Fatal(err)
		}
		newest[v.id] = seq
	}
	mux := http.NewServeMux()
	Routes(mux, Options{Plant: planttest.Varied(), Store: m, Alerts: noAlerts{}, Hub: hub, Version: "test"})
	s := httptest.NewServer(mux)
	defer s.Close()
	for _, row := range []struct {
		name, limit string
		from, to    int
		want        []string // newest first
	}{
		{"some hours", "", 4, 10, []string{"as it is told now", "in it"}},
		{"the newest of them only", "1", 4, 10, []string{"as it is told now"}},
		{"until now", "", 19, 24, []string{"began later", "after it", "as it is told now"}},
		{"nothing changed", "", 10, 19, nil},
	} {
		t.Run(row.name, func(t *testing.T) {
			q := url.Values{"gauge": {"LG-901"}, "from": {at(row.from).Format(time.RFC3339)}, "to": {at(row.to).Format(time.RFC3339)}}
			if row.limit != "" {
				q.Set("limit", row.limit)
			}
			var list []cause.Finding
			if status := get(t, s.URL+Prefix+"/findings?"+q.Encode(), &list); status != http.StatusOK {
				t.Fatalf("status %d", status)
			}
			var got []string
			for _, f := range list {
				got = append(got, f.Sentence)
			}
			if !slices.Equal(got, row.want) {
				t.Errorf("%q, want %q", got, row.want)
			}
		})
	}
}
