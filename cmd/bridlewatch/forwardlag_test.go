package main

import (
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/config"
)

// lagging is a service whose central store can be away.
type lagging struct {
	t  *testing.T
	s  *station
	up atomic.Bool
}

func newLagging(t *testing.T) *lagging {
	t.Helper()
	l := &lagging{t: t}
	central := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		if !l.up.Load() {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	t.Cleanup(central.Close)
	cfg := plantWithLogin(t)
	cfg.Service.OpenAccess = true
	cfg.Influx = &config.Influx{URL: central.URL, Bucket: "levels"}
	l.s = startStation(t, cfg, t.TempDir())
	return l
}

// record stores one value of an instant.
func (l *lagging) record(at time.Time) {
	l.t.Helper()
	ids, err := l.s.store.Register(l.t.Context(), []store.Series{{Gauge: "LG-102", Name: "LT-102", Class: store.Raw, Unit: "mA"}})
	if err != nil {
		l.t.Fatal(err)
	}
	if err := l.s.store.Append(l.t.Context(), store.Scan{Time: at, Values: []store.Value{{ID: ids[0], Value: 12}}}); err != nil {
		l.t.Fatal(err)
	}
}

func (l *lagging) get(path string) string {
	l.t.Helper()
	answer, err := http.Get(l.s.url() + path)
	if err != nil {
		l.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		l.t.Fatalf("%s: %s, %v", path, answer.Status, err)
	}
	return string(body)
}

var (
	lagLine = regexp.MustCompile(`(?m)^bridlewatch_forward_lag_seconds(?:\{[^}]*\})? (\S+)$`)
	upLine  = regexp.MustCompile(`(?m)^bridlewatch_forward_up(?:\{[^}]*\})? (\S+)$`)
)

// metric reads one number of /metrics.
func (l *lagging) metric(line *regexp.Regexp) float64 {
	l.t.Helper()
	found := line.FindStringSubmatch(l.get("/metrics"))
	if found == nil {
		l.t.Fatalf("/metrics has no line %s", line)
	}
	v, err := strconv.ParseFloat(found[1], 64)
	if err != nil {
		l.t.Fatal(err)
	}
	return v
}

func (l *lagging) until(what string, ok func() bool) {
	l.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if ok() {
			return
		}
	}
	l.t.Fatalf("waited a minute in vain: %s; lag %v, up %v", what, l.metric(lagLine), l.metric(upLine))
}

// TestForwardLag follows forward_lag_seconds of a running service through an
// outage of its central store: it is the age of the oldest value that is not
// there, rises with time and not with values, and is gone after.
func TestForwardLag(t *testing.T) {
	l := newLagging(t)
	begun := time.Now()
	oldest := begun.Add(-time.Hour)
	l.record(oldest)
	l.until("the lag of the first value", func() bool { return l.metric(lagLine) >= 3600 })
	first := l.metric(lagLine)
	l.record(begun)
	l.until("a lag that rises", func() bool { return l.metric(lagLine) > first })
	if lag, most := l.metric(lagLine), time.Since(oldest).Seconds(); lag < 3600 || lag > most {
		t.Errorf("lag %v s, want the age of the oldest value, %v s at most", lag, most)
	}
	l.until("forward_up 0: the first attempt was refused", func() bool { return l.metric(upLine) == 0 })
	if page := l.get("/service"); !strings.Contains(page, "503") {
		t.Error("the page of the service does not say why nothing is sent")
	}
	l.up.Store(true)
	l.until("no lag", func() bool { return l.metric(lagLine) == 0 && l.metric(upLine) == 1 })
	if page := l.get("/service"); strings.Contains(page, "503") {
		t.Error("the page of the service still tells of the outage")
	}
	l.up.Store(false)
	l.record(time.Now().Add(-time.Minute))
	l.until("the lag of the next outage", func() bool { lag := l.metric(lagLine); return lag >= 60 && lag < 3600 })
}
