package embedded

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store/storetest"
)

// BenchmarkThousandGauges records an hour of 1000 gauges with six signals at
// 1 s, one synced commit a second, with upkeep each minute, and reports the
// processor time in thousandths of a core that it would take in real time.
// Run it with -benchtime 1x.
func BenchmarkThousandGauges(b *testing.B) {
	for b.Loop() {
		now := storetest.Start
		db, err := Open(b.Context(), Options{Dir: b.TempDir(), Now: func() time.Time { return now }, Upkeep: -1})
		if err != nil {
			b.Fatal(err)
		}
		ids, err := db.Register(b.Context(), storetest.Names(6000))
		if err != nil {
			b.Fatal(err)
		}
		values := make([]float64, len(ids))
		before := used(b, usage{})
		var longest time.Duration
		for n := range 3600 {
			for i := range values {
				values[i] = float64((n*7+i*13)%1600) / 100
			}
			began := time.Now()
			if err := db.Append(b.Context(), storetest.ScanAt(now, ids, values...)); err != nil {
				b.Fatal(err)
			}
			longest = max(longest, time.Since(began))
			if now = now.Add(time.Second); n%60 == 59 {
				if err := db.Upkeep(b.Context()); err != nil {
					b.Fatal(err)
				}
			}
		}
		cpu := used(b, before)
		s, err := db.Stats(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric((cpu.user+cpu.kernel)/3600e6, "millicores")
		b.ReportMetric(float64(longest.Microseconds())/1000, "longest-append-ms")
		b.ReportMetric(float64(s.DatabaseBytes)/(3600*6000), "hot-B/sample")
		b.ReportMetric(peakMiB(b), "peak-MiB")
		if err := db.Close(); err != nil {
			b.Fatal(err)
		}
	}
}

// peakMiB is the largest resident size of this process.
func peakMiB(b *testing.B) (mib float64) {
	raw, err := os.ReadFile("/proc/self/status")
	if err != nil {
		b.Fatal(err)
	}
	_, after, _ := strings.Cut(string(raw), "VmHWM:")
	var kib float64
	if _, err := fmt.Sscan(after, &kib); err != nil {
		b.Fatal(err)
	}
	return kib / 1024
}
