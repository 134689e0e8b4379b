package opcua

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gopcua/opcua/server"
	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// faultTimeout is what a client waits: long enough for a slow machine to
// answer in.
const faultTimeout = 2 * time.Second

// way is how a source reads.
type way struct {
	name      string
	policy    string
	mode      string
	subscribe time.Duration
}

var plainRead = way{"read", "None", "None", 0}

// faults are those that a way must stand. A flipped bit cannot be seen without
// security: TCP's own checksum is all there is.
func (w way) faults() []damage {
	all := []damage{cut, refuse, swallow, tardy, lose, twice, swap, truncate, garbage, trickle}
	if w.policy != "None" {
		return append(all, flip)
	}
	return append(all, expel)
}

// pause between two reads: a subscription is looked at as often as it is
// published.
func (w way) pause() time.Duration { return max(50*time.Millisecond, w.subscribe) }

// rig is a source behind a proxy and what is known of the values.
type rig struct {
	proxy  *proxy
	source *Source
	begin  func()                      // before each read
	right  func(collector.Sample) bool // of a sample that is good
}

// startRig reads a server of our own library without security. Its count is
// raised before each read, so that an answer to an earlier one is seen.
func startRig(t *testing.T, timeout time.Duration) *rig {
	t.Helper()
	var count atomic.Int64
	var before float64
	endpoint := startServer(t, map[string]func() *ua.DataValue{
		"count": func() *ua.DataValue { return server.DataValueFromValue(float64(count.Load())) },
		"fixed": fixed(0.6125),
	})
	p, through := startProxy(t, endpoint, timeout*3/2)
	src, err := New(Options{Name: "test", Endpoint: through, Timeout: timeout, Security: clear()},
		[]Item{{"count", "nsu=" + testSpace + ";s=count"}, {"fixed", "nsu=" + testSpace + ";s=fixed"}}, machine{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { src.Close() })
	return &rig{p, src, func() { before = float64(count.Add(1)) }, func(s collector.Sample) bool {
		return s.Tag == "count" && s.Value == before || s.Tag == "fixed" && s.Value == 0.6125
	}}
}

// scan reads once and counts what is good and what of it is wrong.
func (r *rig) scan(ctx context.Context) (good, wrong int) {
	r.begin()
	got, _ := r.source.Read(ctx)
	for _, s := range got {
		if s.Quality == quantity.Good {
			good++
			if !r.right(s) {
				wrong++
			}
		}
	}
	return good, wrong
}

// settled scans until everything is good; -1: it never was.
func (r *rig) settled(t *testing.T, w way) (took time.Duration, wrong int) {
	start := time.Now()
	for time.Since(start) < time.Minute {
		good, more := r.scan(t.Context())
		if wrong += more; good == 2 {
			return time.Since(start), wrong
		}
		time.Sleep(w.pause())
	}
	return -1, wrong
}

// suffer goes through one fault and returns its row of the table: what is
// delivered as good must be what the server has, and after the fault reading
// works again.
func (r *rig) suffer(t *testing.T, w way, d damage) string {
	t.Helper()
	if took, _ := r.settled(t, w); took < 0 {
		t.Fatal("not read before the fault")
	}
	r.proxy.set(d)
	good, wrong := 0, 0
	for range 6 {
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		g, more := r.scan(ctx)
		cancel()
		good, wrong = good+g, wrong+more
		time.Sleep(w.pause())
	}
	r.proxy.set(pass)
	recovery, more := r.settled(t, w)
	if wrong += more; wrong > 0 {
		t.Errorf("%d wrong values", wrong)
	}
	if recovery < 0 {
		t.Error("not read again after the fault")
	}
	return fmt.Sprintf("%-15s %-16s good during the fault %2d of 12, wrong %d, good again after %4d ms, %d reconnections",
		w.name, d, good, wrong, recovery.Milliseconds(), r.source.Counters().Reconnects)
}

// faultTable prints its rows with -v when all of a test is done.
type faultTable struct {
	mu   sync.Mutex
	rows []string
}

func newFaultTable(t *testing.T) *faultTable {
	table := &faultTable{}
	t.Cleanup(func() {
		slices.Sort(table.rows)
		for _, row := range table.rows {
			t.Log(row)
		}
	})
	return table
}

func (f *faultTable) add(row string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.rows = append(f.rows, row)
}

// TestFaultTable damages the connection in every way. Each fault has a server
// of its own: this one stops accepting while a connection says nothing.
func TestFaultTable(t *testing.T) {
	table := newFaultTable(t)
	for _, d := range plainRead.faults() {
		t.Run(string(d), func(t *testing.T) {
			t.Parallel()
			table.add(startRig(t, faultTimeout).suffer(t, plainRead, d))
		})
	}
}
