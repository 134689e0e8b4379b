package opcua

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gopcua/opcua/server"
	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
	"bridlewatch/collector/poll"
	"bridlewatch/compare/quantity"
)

// A day of faults: dayPlants servers of their own, each polled every minute of
// a clock that runs dayFaster than that of the machine.
const (
	dayPlants  = 4
	dayFaster  = 2880
	dayTimeout = 60 * time.Millisecond
	dayKeys    = 2 * time.Second // the library counts whole seconds: renewed after one
)

// dayClock is a clock that runs faster. The deadlines of connections stay those
// of the machine.
type dayClock struct{ began time.Time }

func (h dayClock) Now() time.Time { return h.began.Add(dayFaster * time.Since(h.began)) }

func (h dayClock) Sleep(ctx context.Context, d time.Duration) error {
	return poll.System{}.Sleep(ctx, d/dayFaster)
}

// dayPlant is a server with another that takes over now and then and knows no
// session, as after a restart, the proxy before them, and a source that is
// watched while the poller reads it.
type dayPlant struct {
	*Source
	proxy   *proxy
	servers [2]string
	rng     *rand.Rand

	count     atomic.Int64 // value of one node: raised before each read
	status    atomic.Uint32
	faults    int
	good, bad atomic.Int64
	wrong     atomic.Int64
}

func (p *dayPlant) start(t *testing.T) (endpoint string) {
	return startServer(t, map[string]func() *ua.DataValue{
		"count": func() *ua.DataValue {
			dv := server.DataValueFromValue(float64(p.count.Load()))
			dv.EncodingMask |= ua.DataValueStatusCode
			dv.Status = ua.StatusCode(p.status.Load())
			return dv
		},
		"fixed": fixed(0.6125),
	})
}

// Read judges what the source gives.
func (p *dayPlant) Read(ctx context.Context) ([]collector.Sample, error) {
	count := float64(p.count.Add(1))
	samples, err := p.Source.Read(ctx)
	for _, s := range samples {
		switch {
		case s.Quality != quantity.Good:
			p.bad.Add(1)
		case s.Value == 0.6125, s.Value == count:
			p.good.Add(1)
		default:
			p.wrong.Add(1)
		}
	}
	return samples, err
}

// suffer changes what is wrong until ctx ends.
func (p *dayPlant) suffer(ctx context.Context) {
	kinds := append(plainRead.faults(), pass, pass)
	for n := 1; (poll.System{}).Sleep(ctx, time.Duration(2+p.rng.IntN(40))*time.Millisecond) == nil; n++ {
		p.proxy.set(kinds[p.rng.IntN(len(kinds))])
		p.status.Store(uint32([]ua.StatusCode{ua.StatusOK, ua.StatusOK, ua.StatusBadSensorFailure, ua.StatusBadOutOfService}[p.rng.IntN(4)]))
		if p.faults++; n%50 == 0 {
			p.proxy.move(p.servers[n/50%2])
			p.proxy.set(cut)
		}
	}
	p.proxy.set(pass)
	p.status.Store(uint32(ua.StatusOK))
}

// TestDayOfFaults has servers cut off, slowed down, restarted, garbled, their
// sessions closed, their values bad and the renewal of their keys lost, for a
// day of the poller's clock. No wrong value is given, nothing is left over, and
// in the end everything is good.
func TestDayOfFaults(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	const seed = 20260104
	var plants []*dayPlant
	var jobs []poll.Job
	for i := range dayPlants {
		p := &dayPlant{rng: rand.New(rand.NewPCG(seed, uint64(i)))}
		p.servers = [2]string{p.start(t), p.start(t)}
		var through string
		p.proxy, through = startProxy(t, p.servers[0], dayTimeout*3/2)
		src, err := New(Options{Name: fmt.Sprint(i), Endpoint: through, Timeout: dayTimeout, Security: clear(), lifetime: dayKeys},
			[]Item{{collector.Tag(fmt.Sprint("count", i)), "nsu=" + testSpace + ";s=count"}, {"fixed", "nsu=" + testSpace + ";s=fixed"}}, machine{})
		if err != nil {
			t.Fatal(err)
		}
		src.tags[1] = collector.Tag(fmt.Sprint("fixed", i))
		p.Source = src
		t.Cleanup(func() { src.Close() })
		plants = append(plants, p)
		jobs = append(jobs, poll.Job{Source: p, Every: time.Minute})
	}
	day := func(part time.Duration) {
		ctx, cancel := context.WithTimeout(t.Context(), part/dayFaster)
		defer cancel()
		var all sync.WaitGroup
		for _, p := range plants {
			all.Go(func() { p.suffer(ctx) })
		}
		poller, err := poll.New(jobs, time.Minute, dayClock{time.Now()})
		if err != nil {
			t.Fatal(err)
		}
		poller.Run(ctx, func(collector.Snapshot) {})
		all.Wait()
	}
	day(3 * time.Hour)
	before := takeStock(t, plants)
	day(21 * time.Hour)
	after := takeStock(t, plants)
	if after.files > before.files+4 {
		t.Errorf("%d descriptors, %d before", after.files, before.files)
	}
	if after.goroutines > before.goroutines+6*dayPlants { // keys being renewed wait in some at either end
		t.Errorf("%d goroutines, %d before", after.goroutines, before.goroutines)
	}
	if grown := after.heap - before.heap; grown > 4<<20 {
		t.Errorf("the heap grew by %d KiB", grown/1024)
	}
	var faults int
	var good, bad, wrong int64
	var reconnects uint64
	for _, p := range plants {
		faults, reconnects = faults+p.faults, reconnects+p.Counters().Reconnects
		good, bad, wrong = good+p.good.Load(), bad+p.bad.Load(), wrong+p.wrong.Load()
	}
	if wrong > 0 || good == 0 || bad == 0 {
		t.Errorf("%d good, %d bad, %d wrong values", good, bad, wrong)
	}
	t.Logf("%d faults, %d reconnections, %d good, %d bad, %d wrong; then and now %+v %+v", faults, reconnects, good, bad, wrong, before, after)
}

// stock is what a process holds.
type stock struct {
	goroutines, files int
	heap              int64
}

// takeStock waits until every source is good again and what was given up has
// ended.
func takeStock(t *testing.T, plants []*dayPlant) stock {
	t.Helper()
	for _, p := range plants {
		limit := time.Now().Add(time.Minute)
		for seen := 0; seen < 2; {
			seen = 0
			samples, _ := p.Read(t.Context())
			for _, s := range samples {
				if s.Quality == quantity.Good {
					seen++
				}
			}
			if time.Now().After(limit) {
				t.Fatalf("not read again: %+v", samples)
			}
			time.Sleep(20 * time.Millisecond)
		}
	}
	time.Sleep(2 * time.Second)
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	open, _ := os.ReadDir("/proc/self/fd")
	return stock{runtime.NumGoroutine(), len(open), int64(m.HeapAlloc)}
}
