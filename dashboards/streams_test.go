package dashboards

import (
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"bridlewatch/dashboards/plant/planttest"
)

// BenchmarkStreams200 is one comparison of a gauge that two hundred browsers
// look at: one page piece made, two hundred copies received.
func BenchmarkStreams200(b *testing.B) {
	s, err := New(Options{Plant: planttest.Varied(), Store: planttest.NewMemory()})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	server := httptest.NewServer(s.Handler())
	defer server.Close()
	var received atomic.Int64
	var open sync.WaitGroup
	client := &http.Client{Transport: &http.Transport{MaxConnsPerHost: 0}}
	for range 200 {
		answer, err := client.Get(server.URL + "/gauge/LG-102/events")
		if err != nil {
			b.Fatal(err)
		}
		open.Add(1)
		go func() {
			defer open.Done()
			defer answer.Body.Close()
			buf := make([]byte, 64<<10)
			for {
				n, err := answer.Body.Read(buf)
				received.Add(int64(n))
				if err == io.EOF || err != nil {
					return
				}
			}
		}()
	}
	time.Sleep(200 * time.Millisecond)
	received.Store(0)
	b.ReportAllocs()
	for b.Loop() {
		s.Publish("LG-102")
		time.Sleep(livePause)
	}
	b.ReportMetric(float64(received.Load())/float64(b.N)/200, "bytes/viewer")
	s.Close()
	open.Wait()
}
