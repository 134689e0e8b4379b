package influx_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/influx"
	"bridlewatch/collector/store/storetest"
)

// fakeServer takes line protocol the way InfluxDB answers, with trouble on
// demand, and keeps what it took: the newest line by series and time.
type fakeServer struct {
	*httptest.Server
	mu       sync.Mutex
	lines    map[string]string
	order    []string
	requests int
	// trouble may answer request n instead; it reports whether it did.
	trouble func(n int, w http.ResponseWriter, take func()) bool
	refuse  string // lines containing this are refused, and their request with them
}

func newFakeServer(t *testing.T) *fakeServer {
	f := &fakeServer{lines: map[string]string{}}
	f.Server = httptest.NewServer(http.HandlerFunc(f.write))
	t.Cleanup(f.Close)
	return f
}

func (f *fakeServer) write(w http.ResponseWriter, r *http.Request) {
	raw, err := body(r)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.requests++
	take := func() {
		for line := range strings.Lines(raw) {
			line = strings.TrimSpace(line)
			name, rest, _ := strings.Cut(line, " ")
			_, at, _ := strings.Cut(rest, " ")
			f.lines[name+" "+at] = rest
			f.order = append(f.order, name+" "+at)
		}
	}
	if f.trouble != nil && f.trouble(f.requests, w, take) {
		return
	}
	if f.refuse != "" && strings.Contains(raw, f.refuse) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(http.StatusBadRequest)
		fmt.Fprint(w, `{"code":"invalid","message":"partial write: field type conflict: input field \"value\" on measurement \"bridlewatch_raw\" is type float, already exists as type string dropped=1"}`)
		return
	}
	take()
	w.WriteHeader(http.StatusNoContent)
}

func body(r *http.Request) (string, error) {
	in := io.Reader(r.Body)
	if r.Header.Get("Content-Encoding") == "gzip" {
		z, err := gzip.NewReader(r.Body)
		if err != nil {
			return "", err
		}
		in = z
	}
	var b bytes.Buffer
	_, err := b.ReadFrom(in)
	return b.String(), err
}

// samples counts the lines of the raw measurement.
func (f *fakeServer) samples() (n int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for name := range f.lines {
		if strings.HasPrefix(name, "bridlewatch_raw,") {
			n++
		}
	}
	return n
}

func openLocal(t testing.TB) (*embedded.DB, []store.ID) {
	t.Helper()
	db, err := embedded.Open(t.Context(), embedded.Options{Dir: t.TempDir(), Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db, storetest.Register(t, db, 10)
}

// fill appends n scans of ten values.
func fill(t testing.TB, db *embedded.DB, ids []store.ID, from, n int) {
	t.Helper()
	scans := make([]store.Scan, n)
	for i := range scans {
		v := float64(from + i)
		scans[i] = storetest.ScanAt(storetest.Start.Add(time.Duration(from+i)*time.Second), ids, v, v, v, v, v, v, v, v, v, v)
	}
	if err := db.AppendBatch(t.Context(), scans); err != nil {
		t.Fatal(err)
	}
}

func forward(t testing.TB, db *embedded.DB, url string, change func(*influx.ForwardOptions)) *influx.Forwarder {
	t.Helper()
	o := influx.ForwardOptions{Server: influx.Server{URL: url, Bucket: "b"}, Origin: influx.Origin{Site: "north", Box: "1"},
		Batch: 50, Rate: 1 << 30, Idle: 5 * time.Millisecond, MinWait: time.Millisecond, MaxWait: 10 * time.Millisecond, Timeout: 20 * time.Second}
	if change != nil {
		change(&o)
	}
	f, err := influx.NewForwarder(db, o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- f.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; !errors.Is(err, context.Canceled) {
			t.Errorf("forwarder ended with %v", err)
		}
	})
	return f
}

func eventually(t testing.TB, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("waited 20 s in vain: %s", what)
}

func TestTroubleLosesAndDoublesNothing(t *testing.T) {
	answer := func(status int) func(int, http.ResponseWriter, func()) bool {
		return func(n int, w http.ResponseWriter, _ func()) bool {
			if n%2 == 0 {
				return false
			}
			w.WriteHeader(status)
			return true
		}
	}
	for _, c := range []struct {
		name    string
		trouble func(int, http.ResponseWriter, func()) bool
	}{
		{"none", nil},
		{"429 every other time", answer(429)},
		{"500 every other time", answer(500)},
		{"503 every other time", answer(503)},
		{"401 for a while", func(n int, w http.ResponseWriter, _ func()) bool {
			if n > 5 {
				return false
			}
			w.WriteHeader(401)
			return true
		}},
		{"taken, then cut before the answer", func(n int, w http.ResponseWriter, take func()) bool {
			if n%3 != 0 {
				return false
			}
			take()
			panic(http.ErrAbortHandler)
		}},
		{"cut before it is taken", func(n int, _ http.ResponseWriter, _ func()) bool {
			if n%3 != 0 {
				return false
			}
			panic(http.ErrAbortHandler)
		}},
		{"slower than the time-out", func(n int, _ http.ResponseWriter, take func()) bool {
			if n != 2 {
				return false
			}
			time.Sleep(300 * time.Millisecond)
			take()
			return true
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			db, ids := openLocal(t)
			server := newFakeServer(t)
			server.trouble = c.trouble
			fill(t, db, ids, 0, 30)
			f := forward(t, db, server.URL, func(o *influx.ForwardOptions) { o.Timeout = 200 * time.Millisecond })
			fill(t, db, ids, 30, 10)
			eventually(t, "400 samples at the server", func() bool { return server.samples() == 400 && f.Status().Lag == 0 })
			if s := f.Status(); s.Rejected != 0 || s.Sent < 400 {
				t.Errorf("status %+v; want 400 sent and none rejected", s)
			}
		})
	}
}

func TestInOrderOfArrival(t *testing.T) {
	db, ids := openLocal(t)
	server := newFakeServer(t)
	fill(t, db, ids, 0, 40)
	forward(t, db, server.URL, nil)
	eventually(t, "all samples", func() bool { return server.samples() == 400 })
	server.mu.Lock()
	defer server.mu.Unlock()
	last := ""
	for _, name := range server.order {
		if strings.HasPrefix(name, "bridlewatch_box,") {
			continue // says when it is said
		}
		if _, at, _ := strings.Cut(name, " "); at < last {
			t.Fatalf("%s came after %s", at, last)
		} else if at != "" {
			last = at
		}
	}
}

func TestRefusedLinesAreSetAsideAlone(t *testing.T) {
	db, ids := openLocal(t)
	server := newFakeServer(t)
	server.refuse = "signal=LT-AD"
	fill(t, db, ids, 0, 20)
	var mu sync.Mutex
	var rejected []influx.Rejected
	f := forward(t, db, server.URL, func(o *influx.ForwardOptions) {
		o.Reject = func(_ context.Context, r influx.Rejected) error {
			mu.Lock()
			defer mu.Unlock()
			rejected = append(rejected, r)
			return nil
		}
	})
	eventually(t, "the other 180 samples", func() bool { return server.samples() == 180 && f.Status().Lag == 0 })
	mu.Lock()
	defer mu.Unlock()
	if len(rejected) != 20 || f.Status().Rejected != 20 {
		t.Fatalf("%d rejected, status says %d, want 20", len(rejected), f.Status().Rejected)
	}
	for _, r := range rejected {
		if r.Series.Name != "LT-AD" || !strings.Contains(r.Reason, "field type conflict") {
			t.Errorf("rejected %+v", r)
		}
	}
}

// TestASilentServerIsSaid: a server that takes connections and never answers is
// named as one, with how much waits and since when; then all arrives once.
func TestASilentServerIsSaid(t *testing.T) {
	db, ids := openLocal(t)
	server := newFakeServer(t)
	silent := true
	server.trouble = func(_ int, _ http.ResponseWriter, _ func()) bool {
		if silent {
			server.mu.Unlock()
			time.Sleep(100 * time.Millisecond)
			server.mu.Lock()
		}
		return silent
	}
	fill(t, db, ids, 0, 3)
	f := forward(t, db, server.URL, func(o *influx.ForwardOptions) { o.Timeout = 30 * time.Millisecond })
	eventually(t, "an explanation", func() bool { return strings.Contains(f.Status().Trouble, "gives no answer within 30ms") })
	if s := f.Status(); s.Waiting != 3 || s.Since.IsZero() {
		t.Errorf("%d scans wait since %s, want 3", s.Waiting, s.Since)
	}
	server.mu.Lock()
	silent = false
	server.mu.Unlock()
	eventually(t, "all samples once it answers", func() bool { return server.samples() == 30 && f.Status().Trouble == "" && f.Status().Waiting == 0 })
}

func TestMissingBucketWaitsAndSaysWhy(t *testing.T) {
	db, ids := openLocal(t)
	server := newFakeServer(t)
	var found bool
	server.trouble = func(_ int, w http.ResponseWriter, _ func()) bool {
		if found {
			return false
		}
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(404)
		fmt.Fprint(w, `{"code":"not found","message":"bucket \"b\" not found"}`)
		return true
	}
	fill(t, db, ids, 0, 3)
	f := forward(t, db, server.URL, nil)
	eventually(t, "an explanation", func() bool { return strings.Contains(f.Status().Trouble, "does not know the bucket") })
	if s := f.Status(); s.Lag == 0 || s.Rejected != 0 {
		t.Errorf("status %+v, want a lag and nothing rejected", s)
	}
	server.mu.Lock()
	found = true
	server.mu.Unlock()
	eventually(t, "all samples once the bucket exists", func() bool { return server.samples() == 30 && f.Status().Trouble == "" })
}

func TestRateIsBounded(t *testing.T) {
	db, ids := openLocal(t)
	server := newFakeServer(t)
	fill(t, db, ids, 0, 100)
	began := time.Now()
	forward(t, db, server.URL, func(o *influx.ForwardOptions) { o.Rate, o.Batch = 4000, 100 })
	eventually(t, "all samples", func() bool { return server.samples() == 1000 })
	if took := time.Since(began); took < 200*time.Millisecond {
		t.Errorf("1000 lines at 4000 a second took %s, want a quarter of a second", took)
	}
}

func TestCursorSurvives(t *testing.T) {
	db, ids := openLocal(t)
	server := newFakeServer(t)
	fill(t, db, ids, 0, 10)
	t.Run("first run", func(t *testing.T) {
		forward(t, db, server.URL, nil)
		eventually(t, "100 samples", func() bool { return server.samples() == 100 })
		eventually(t, "a cursor", func() bool {
			c, err := db.Cursor(t.Context(), "influx")
			return err == nil && c.Seq == 10
		})
	})
	fill(t, db, ids, 10, 5)
	count := func() int {
		server.mu.Lock()
		defer server.mu.Unlock()
		return server.requests
	}
	before := count()
	forward(t, db, server.URL, nil)
	eventually(t, "150 samples", func() bool { return server.samples() == 150 })
	if n := count() - before; n > 3 {
		t.Errorf("%d requests for what was new, want at most 3", n)
	}
}

func TestOriginIsRequired(t *testing.T) {
	db, _ := openLocal(t)
	_, err := influx.NewForwarder(db, influx.ForwardOptions{Server: influx.Server{URL: "http://127.0.0.1:1", Bucket: "b"}, Origin: influx.Origin{Site: "north"}})
	if err == nil {
		t.Error("a forwarder without the name of its box was accepted")
	}
}

// A box that is far behind says so, and what its gauges are like, between two
// requests; a refused report does not hold up history.
func TestReportWhileBehind(t *testing.T) {
	for _, refuse := range []string{"", "bridlewatch_box"} {
		t.Run(refuse, func(t *testing.T) {
			db, ids := openLocal(t)
			server := newFakeServer(t)
			server.refuse = refuse
			fill(t, db, ids, 0, 40)
			forward(t, db, server.URL, func(o *influx.ForwardOptions) {
				o.State = func() influx.State {
					return influx.State{Worst: 5, Alerts: 1, Gauges: []influx.GaugeState{{Gauge: "LG-101", Category: 5, Alerts: 1}}}
				}
			})
			eventually(t, "all samples", func() bool { return server.samples() == 400 })
			if refuse != "" {
				return
			}
			server.mu.Lock()
			defer server.mu.Unlock()
			first := slices.IndexFunc(server.order, func(s string) bool { return strings.HasPrefix(s, "bridlewatch_box,") })
			if first < 0 || first > 300 {
				t.Fatalf("the report came as line %d of %d; want it before the end of catching up", first, len(server.order))
			}
			if said := server.lines[server.order[first]]; !strings.Contains(said, "worst=5i") || strings.Contains(said, "lag_seconds=0,") {
				t.Errorf("the box said %q; want the worst category and that it is behind", said)
			}
			if !strings.HasPrefix(server.order[first+1], "bridlewatch_gauge,box=1,gauge=LG-101,site=north") {
				t.Errorf("after the box came %q; want its gauge", server.order[first+1])
			}
		})
	}
}
