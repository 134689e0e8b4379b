package page

import (
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/times"
)

// A trend says where another configuration began and which levels were
// computed again: the lines may change there without any instrument doing so.
func TestTrendSaysWhatChangedTheLevels(t *testing.T) {
	ctx := context.Background()
	m := planttest.NewMemory()
	p := &Pages{Options: Options{Store: m, Zone: times.Zone{Location: time.UTC}}}
	now := planttest.Now
	body, err := json.Marshal(Recomputed{From: now.Add(-50 * time.Hour), To: now.Add(-20 * time.Hour), Version: "aa11"})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range []store.Document{
		{Kind: configurationKind, ID: "aa11", Time: now.Add(-2 * time.Hour), Body: []byte("{}")},
		{Kind: configurationKind, ID: "old", Time: now.Add(-300 * time.Hour), Body: []byte("{}")},
		{Kind: RecomputedKind, ID: "aa11 x", Time: now.Add(-time.Hour), Body: body},
	} {
		if _, err := m.Put(ctx, d); err != nil {
			t.Fatal(err)
		}
	}
	spans, err := p.changes(ctx, now.Add(-24*time.Hour), now)
	if err != nil || len(spans) != 2 {
		t.Fatalf("%+v, %v", spans, err)
	}
	if !strings.Contains(spans[0].Label, "aa11 for the first time") || !strings.Contains(spans[1].Label, "computed again with configuration aa11") || !spans[1].To.Equal(now.Add(-20*time.Hour)) {
		t.Errorf("%+v", spans)
	}
	if spans, _ = p.changes(ctx, now.Add(-10*time.Hour), now.Add(-5*time.Hour)); len(spans) != 0 {
		t.Errorf("outside the period: %+v", spans)
	}
}
