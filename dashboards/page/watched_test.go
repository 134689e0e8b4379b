package page

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/plant/planttest"
)

// TestPagesOfWatchedGauges renders what the comparison really says about
// simulated gauges of every make with every kind of fault.
func TestPagesOfWatchedGauges(t *testing.T) {
	kinds := []scenario.Kind{""}
	for _, d := range scenario.Kinds() {
		kinds = append(kinds, d.Kind)
	}
	p, err := planttest.Watched(kinds, 5*time.Hour, 3*time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	_, mux := newPages(t, p, planttest.NewMemory())
	if w := get(mux, "/"); w.Code != http.StatusOK {
		t.Fatalf("list: status %d: %s", w.Code, w.Body)
	}
	findings := 0
	for _, g := range p.Gauges() {
		findings += len(g.Result.Findings)
		for _, page := range []string{"", "/settle", "/proven", "/blind"} {
			w := get(mux, "/gauge/"+g.Sheet.Tag+page)
			body := w.Body.String()
			if w.Code != http.StatusOK || strings.Contains(body, "NaN") || strings.Contains(body, "ZgotmplZ") || strings.Contains(body, "Next</span> Next") {
				t.Errorf("%s%s, %s: status %d, or a value that was not written properly", g.Sheet.Tag, page, g.Sheet.Service, w.Code)
			}
		}
	}
	t.Logf("%d gauges, %d findings", len(p.Gauges()), findings)
	if len(p.Gauges()) < 100 || findings < 50 {
		t.Errorf("%d gauges with %d findings were shown, too few to be a test", len(p.Gauges()), findings)
	}
}

// TestASilentInstrumentIsNotCalledUnsure looks at a gauge without its
// transmitter's signal: what is watched there is sure.
func TestASilentInstrumentIsNotCalledUnsure(t *testing.T) {
	p, err := planttest.Watched([]scenario.Kind{scenario.SignalLost}, 5*time.Hour, 3*time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	_, mux := newPages(t, p, planttest.NewMemory())
	body := get(mux, "/").Body.String()
	if !strings.Contains(body, "No usable reading of") || !strings.Contains(body, "the service page shows its source") || strings.Contains(body, "Not sure enough") {
		t.Error("the list does not say that signals are missing, or calls that unsure")
	}
}
