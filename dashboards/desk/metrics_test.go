package desk

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"bridlewatch/compare/alert"
	"bridlewatch/dashboards/metrics"
	"bridlewatch/dashboards/plant/planttest"
)

func TestMetricsOfAlerts(t *testing.T) {
	b := newBench(t)
	b.Changed(t.Context(), b.now, "opened", stuck("f1"), "failure")
	b.told(1)
	scrape := func() string {
		w := httptest.NewRecorder()
		metrics.Handler(planttest.New(), metrics.OfAlerts(b.Desk)).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
		return w.Body.String()
	}
	before := scrape()
	if _, err := b.Act(t.Context(), alert.Action{Verb: alert.Shelve, Alert: "f1", By: "a", Why: "w", UntilClear: true}); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct{ name, text, line string }{
		{"open", before, `bridlewatch_alerts{state="unacknowledged"} 1`},
		{"sent", before, `bridlewatch_notifications_sent_total{route="ops"} 1`},
		{"failed", before, `bridlewatch_notifications_failed_total{route="ops"} 0`},
		{"shelved", scrape(), `bridlewatch_alerts_quiet{by="shelved"} 1`},
		{"no longer open", scrape(), `bridlewatch_alerts{state="unacknowledged"} 0`},
	} {
		t.Run(row.name, func(t *testing.T) {
			if !strings.Contains(row.text, row.line) {
				t.Errorf("no line %s", row.line)
			}
		})
	}
}
