package page

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/times"
)

func benchPages(b *testing.B, p *planttest.Plant, m *planttest.Memory) (*Pages, *http.ServeMux) {
	b.Helper()
	hub := live.New(time.Millisecond, time.Hour)
	b.Cleanup(hub.Close)
	pages, err := New(Options{Plant: p, Store: m, Hub: hub, Templates: templates(), Static: "/s/test", Zone: times.Zone{Location: time.UTC}})
	if err != nil {
		b.Fatal(err)
	}
	mux := http.NewServeMux()
	pages.Routes(mux)
	return pages, mux
}

func serveMany(b *testing.B, mux http.Handler, address string) {
	b.Helper()
	b.ReportAllocs()
	size := 0
	for b.Loop() {
		w := httptest.NewRecorder()
		mux.ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
		if w.Code != http.StatusOK {
			b.Fatalf("status %d", w.Code)
		}
		size = w.Body.Len()
	}
	b.ReportMetric(float64(size), "bytes")
}

// BenchmarkVisits1000 is the list of a thousand gauges, half of which need a
// visit.
func BenchmarkVisits1000(b *testing.B) {
	var gauges []plant.GaugeView
	for i := range 500 {
		gauges = append(gauges, planttest.StuckFloat(fmt.Sprintf("LG-%d", 1000+i)), planttest.Healthy(fmt.Sprintf("LG-%d", 2000+i)))
	}
	_, mux := benchPages(b, planttest.New(gauges...), planttest.NewMemory())
	serveMany(b, mux, "/")
}

// BenchmarkGauge is the page of one gauge with everything on it.
func BenchmarkGauge(b *testing.B) {
	_, mux := benchPages(b, planttest.Varied(), planttest.NewMemory())
	serveMany(b, mux, "/gauge/LG-102")
}

// BenchmarkPiece is what one comparison costs for everybody who looks at the
// gauge in the same units.
func BenchmarkPiece(b *testing.B) {
	pages, _ := benchPages(b, planttest.Varied(), planttest.NewMemory())
	b.ReportAllocs()
	for b.Loop() {
		pages.piece("LG-102", preferencesOf(httptest.NewRequest(http.MethodGet, "/", nil)).units)
	}
}

// BenchmarkTrendData is the answer a plot of 1,200 pixels waits for, from a
// store that has its buckets ready.
func BenchmarkTrendData(b *testing.B) {
	m := planttest.NewMemory()
	if err := m.Fill("LG-102", planttest.Now.Add(-24*time.Hour), planttest.Now, time.Minute); err != nil {
		b.Fatal(err)
	}
	_, mux := benchPages(b, planttest.Varied(), m)
	serveMany(b, mux, "/gauge/LG-102/trend.json?last=24h&width=1200")
}
