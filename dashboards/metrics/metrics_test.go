package metrics

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
)

func TestScrape(t *testing.T) {
	w := httptest.NewRecorder()
	Handler(planttest.Varied()).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	if w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	body := w.Body.String()
	for _, line := range []string{
		`bridlewatch_assessed{category="failure",gauge="LG-102"} 1`,
		`bridlewatch_assessed{category="not seen",gauge="LG-103"} 1`,
		`bridlewatch_gap_meters{gauge="LG-102",pair="float-transmitter"} -0.184`,
		`bridlewatch_findings{gauge="LG-102",tier="alert"} 1`,
		`bridlewatch_source_up{source="tank farm"} 0`,
		`bridlewatch_store_writable 1`,
	} {
		if !strings.Contains(body, line) {
			t.Errorf("scrape has no line %q", line)
		}
	}
	for _, name := range []string{`bridlewatch_level_meters{gauge="LG-103"`, `bridlewatch_gap_meters{gauge="LG-103"`} {
		if strings.Contains(body, name) {
			t.Errorf("a gauge nobody sees still has %s", name)
		}
	}
}

// TestNamesFollowTheConventions lets the linter of the Prometheus client
// library judge names, units and help texts.
func TestNamesFollowTheConventions(t *testing.T) {
	r := prometheus.NewPedanticRegistry()
	r.MustRegister(&collector{planttest.Varied()})
	problems, err := testutil.GatherAndLint(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
}

// TestForwardLag publishes the lag only where there is a central store.
func TestForwardLag(t *testing.T) {
	scrape := func(h plant.Health) (names []string) {
		r := prometheus.NewRegistry()
		r.MustRegister(serviceOf(h))
		families, err := r.Gather()
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range families {
			if name, ok := strings.CutPrefix(f.GetName(), "bridlewatch_forward_"); ok {
				names = append(names, fmt.Sprint(name, "=", f.GetMetric()[0].GetGauge().GetValue()))
			}
		}
		return names
	}
	if got := scrape(plant.Health{}); got != nil {
		t.Errorf("without a central store: %q", got)
	}
	got := scrape(plant.Health{Forward: &plant.ForwardHealth{Behind: 90 * time.Second, Trouble: "refused"}})
	if want := []string{"lag_seconds=90", "up=0"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// serviceOf publishes the health of a service alone.
type serviceOf plant.Health

func (s serviceOf) Describe(ch chan<- *prometheus.Desc) { prometheus.DescribeByCollect(s, ch) }

func (s serviceOf) Collect(ch chan<- prometheus.Metric) { collectService(ch, plant.Health(s)) }
