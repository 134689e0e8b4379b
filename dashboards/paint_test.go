//go:build peers

package dashboards

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bridlewatch/dashboards/plant/planttest"
)

// painted is when things of a page were there, in milliseconds from the start
// of the navigation, by the browser's own clock.
type painted struct {
	Answer float64 `json:"answer"` // last byte of the page
	First  float64 `json:"first"`  // first contentful paint
	Large  float64 `json:"large"`  // largest contentful paint
	Trend  float64 `json:"trend"`  // the frame after the plots were drawn; 0: none
	Data   float64 `json:"data"`   // what the browser waited for the data of the plots
}

// stopwatch times what the service takes for each path.
type stopwatch struct {
	next http.Handler
	mu   sync.Mutex
	took map[string][]time.Duration
}

func (s *stopwatch) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.URL.Path == "/empty" {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		fmt.Fprint(w, `<!doctype html><html lang="en"><title>empty</title><p>empty</p></html>`)
		return
	}
	began := time.Now()
	s.next.ServeHTTP(w, r)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.took[r.URL.Path] = append(s.took[r.URL.Path], time.Since(began))
}

// TestPaintedTime opens a gauge with a year of history on a disk and reports
// when Chromium had painted it, beside an empty page on the same machine. It
// fails when something is not painted at all; how long is good depends on the
// machine and is printed.
func TestPaintedTime(t *testing.T) {
	s, err := New(Options{Plant: planttest.Varied(), Store: yearStore(t, "LG-102")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	watch := &stopwatch{next: s.Handler(), took: map[string][]time.Duration{}}
	server := httptest.NewServer(watch)
	t.Cleanup(server.Close)

	tab := browser(t)
	if err := size(tab, 1280, 800, false); err != nil {
		t.Fatal(err)
	}
	empty := opened(t, tab, server.URL+"/empty", false)
	for _, p := range []struct{ name, path, data string }{
		{"gauge, last 24 h", "/gauge/LG-102", "/gauge/LG-102/trend.json"},
		{"trend, 1 year", "/gauge/LG-102/trend?last=8760h", "/gauge/LG-102/trend.json"},
		{"visits", "/", ""},
	} {
		clear(watch.took)
		got := opened(t, tab, server.URL+p.path, p.data != "")
		if got.First == 0 || got.Large == 0 || p.data != "" && (got.Trend == 0 || got.Data == 0) {
			t.Errorf("%s was not painted: %+v", p.name, got)
		}
		path, _, _ := strings.Cut(p.path, "?")
		if n := len(watch.took[p.data]); p.data != "" && n != len(watch.took[path]) {
			t.Errorf("%s: opened %d times, and its data asked for %d times", p.name, len(watch.took[path]), n)
		}
		end := max(got.Trend, got.Large)
		t.Logf("%-17s first paint %3.0f ms, largest %3.0f ms, plots %3.0f ms; service: page %v, data %v; %.1f times an empty page (%.0f ms)",
			p.name, got.First, got.Large, got.Trend, middle(watch.took[path]), middle(watch.took[p.data]), end/empty.First, empty.First)
	}
}

// opened opens a page several times in a row and returns the middle of each
// figure. The first time fills the browser's cache and does not count.
func opened(t *testing.T, ctx context.Context, address string, plots bool) painted {
	t.Helper()
	const times = 7
	var all []painted
	for i := range times + 1 {
		if err := chromedp.Do(ctx, chromedp.Navigate("about:blank"), chromedp.Navigate(address)); err != nil {
			t.Fatal(err)
		}
		if plots {
			waitFor(t, ctx, `performance.getEntriesByName("trend painted").length > 0`, "plots on "+address)
		}
		waitFor(t, ctx, `performance.getEntriesByName("first-contentful-paint").length > 0`, "paint of "+address)
		got, err := chromedp.Run(ctx, chromedp.Evaluate[painted](`new Promise((done) => {
			const at = (name) => performance.getEntriesByName(name)[0]?.startTime ?? 0;
			const data = performance.getEntriesByType("resource").find((e) => e.name.includes("trend.json"));
			let large = 0;
			new PerformanceObserver((list) => { for (const e of list.getEntries()) large = e.startTime; }).observe({type: "largest-contentful-paint", buffered: true});
			setTimeout(() => done({answer: performance.getEntriesByType("navigation")[0].responseEnd, first: at("first-contentful-paint"), large, trend: at("trend painted"), data: data ? data.duration : 0}), 100);
		})`, chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(err)
		}
		if i > 0 {
			all = append(all, got)
		}
	}
	return painted{
		Answer: middleOf(all, func(p painted) float64 { return p.Answer }), First: middleOf(all, func(p painted) float64 { return p.First }),
		Large: middleOf(all, func(p painted) float64 { return p.Large }), Trend: middleOf(all, func(p painted) float64 { return p.Trend }),
		Data: middleOf(all, func(p painted) float64 { return p.Data }),
	}
}

func middleOf(all []painted, of func(painted) float64) float64 {
	var list []float64
	for _, p := range all {
		list = append(list, of(p))
	}
	slices.Sort(list)
	return list[len(list)/2]
}

func middle(list []time.Duration) time.Duration {
	if len(list) == 0 {
		return 0
	}
	list = slices.Clone(list)
	slices.Sort(list)
	return list[len(list)/2].Round(100 * time.Microsecond)
}
