package opcua

import (
	"context"
	"fmt"
	"runtime"
	"testing"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/poll"
)

// BenchmarkSessionMemory is what one more session keeps alive between two
// reads, as heap and as stacks, by the nodes it reads. With -memprofile the
// library's message buffers can be told from what is ours.
func BenchmarkSessionMemory(b *testing.B) {
	const sessions = 200
	for _, nodes := range []int{1, 20, 100} {
		b.Run(fmt.Sprint(nodes), func(b *testing.B) {
			endpoint := collectortest.Elsewhere(b, fmt.Sprint(chunkFor(nodes)))
			before, goroutines := held(), runtime.NumGoroutine()
			var all []*Source
			for s := range sessions {
				var items []Item
				for i := range nodes {
					items = append(items, Item{Tag: collector.Tag(fmt.Sprintf("%d.%d", s, i)), Node: benchNode(s*nodes + i)})
				}
				src, err := New(Options{Name: fmt.Sprint(s), Endpoint: endpoint, Timeout: 10 * time.Second, Security: clear(), MaxNodesPerRead: defaultBatch}, items, poll.System{})
				if err != nil {
					b.Fatal(err)
				}
				defer src.Close()
				all = append(all, src)
			}
			for range 3 {
				for _, s := range all {
					if _, err := s.Read(context.Background()); err != nil {
						b.Fatal(err)
					}
				}
			}
			after := held()
			b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc)/1024/sessions, "heap-KiB/session")
			b.ReportMetric(float64(after.StackInuse-before.StackInuse)/1024/sessions, "stack-KiB/session")
			b.ReportMetric(float64(runtime.NumGoroutine()-goroutines)/sessions, "goroutines/session")
		})
	}
}

// held is the memory in use after two collections: the first shrinks stacks.
func held() (m runtime.MemStats) {
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m
}
