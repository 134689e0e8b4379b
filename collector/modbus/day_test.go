package modbus_test

import (
	"math/rand/v2"
	"runtime"
	"testing"
	"testing/synctest"
	"time"

	"bridlewatch/collector/collectortest"
)

// dayEvery is how often the day of faults scans; faults change every dozen
// scans.
const dayEvery = time.Minute

// TestDayOfFaults runs a day of changing faults on each transport in fake
// time: no wrong value, no goroutine and no memory left over, and everything
// good in the end.
func TestDayOfFaults(t *testing.T) {
	for _, tr := range transports {
		t.Run(tr.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { runDay(t, tr, 20260103) })
		})
	}
}

func runDay(t *testing.T, tr transport, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, seed))
	r := newRig(t, tr, seed)
	defer r.close()
	faults := append(collectortest.Faults(), collectortest.NoFault)
	var total tally
	var fault collectortest.Fault
	var share float64
	var before, after runtime.MemStats
	var goroutines int
	scans := int(24 * time.Hour / dayEvery)
	for scan := range scans {
		if scan%12 == 0 {
			fault, share = faults[rng.IntN(len(faults))], rng.Float64()
			r.proxy.Set(fault, share)
		}
		if scan == scans/10 {
			goroutines = quiesce(r, &before)
		}
		total.add(r.scan(t))
		time.Sleep(time.Duration(rng.Int64N(int64(2 * dayEvery))))
		if total.wrong > 0 {
			t.Fatalf("seed %d, scan %d: a wrong value under %s, %.0f %%", seed, scan, fault, 100*share)
		}
	}
	r.proxy.Set(collectortest.NoFault, 0)
	if recovery, seen := r.recover(t); recovery > 1500*time.Millisecond || seen.wrong > 0 {
		t.Errorf("seed %d: not recovered after %v, %d wrong", seed, recovery, seen.wrong)
	}
	if left := quiesce(r, &after); left > goroutines+8 {
		t.Errorf("%d goroutines, %d before", left, goroutines)
	}
	if grown := int64(after.HeapAlloc) - int64(before.HeapAlloc); grown > 1<<20 {
		t.Errorf("the heap grew by %d KiB", grown/1024)
	}
	t.Logf("%d good, %d bad, %d wrong in %d scans", total.good, total.bad, total.wrong, scans)
}

// quiesce lets everything on its way arrive and takes stock.
func quiesce(r *rig, m *runtime.MemStats) (goroutines int) {
	r.proxy.Set(collectortest.NoFault, 0)
	time.Sleep(10 * time.Second)
	synctest.Wait()
	runtime.GC()
	runtime.ReadMemStats(m)
	return runtime.NumGoroutine()
}
