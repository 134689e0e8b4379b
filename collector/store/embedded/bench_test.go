package embedded

import (
	"fmt"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

// BenchmarkAppend records scans of n values, one synced transaction per batch.
func BenchmarkAppend(b *testing.B) {
	for _, c := range []struct{ values, batch int }{{100, 1}, {100, 60}, {1000, 1}, {6000, 1}} {
		b.Run(fmt.Sprintf("values=%d/batch=%d", c.values, c.batch), func(b *testing.B) {
			db := open(b, b.TempDir())
			ids, err := db.Register(b.Context(), storetest.Names(c.values))
			if err != nil {
				b.Fatal(err)
			}
			values := make([]float64, len(ids))
			batch := make([]store.Scan, c.batch)
			for i := range batch {
				batch[i] = storetest.ScanAt(storetest.Start, ids, values...)
			}
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				for i := range batch {
					n++
					batch[i].Time = storetest.Start.Add(time.Duration(n) * time.Second)
				}
				if err := db.AppendBatch(b.Context(), batch); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(n*c.values), "ns/sample")
		})
	}
}
