package opcua

import (
	"context"
	"fmt"
	"strconv"
	"sync"
	"testing"
	"time"

	library "github.com/gopcua/opcua"
	"github.com/gopcua/opcua/server"
	"github.com/gopcua/opcua/ua"
	"github.com/gopcua/opcua/uacp"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/poll"
)

// benchNodes are served by the process of the benchmarks.
const benchNodes = 50_000

// beServer serves numbered nodes. The argument is the largest chunk it will
// say it takes: a server must not name more than the client asked for (OPC
// 10000-6, 7.1.2.4, from memory), but this library's names what it is told.
func beServer(chunk string) string {
	if n, err := strconv.ParseUint(chunk, 10, 32); err == nil && n > 0 {
		uacp.DefaultServerACK.ReceiveBufSize, uacp.DefaultServerACK.SendBufSize = uint32(n), uint32(n)
	}
	values := map[string]func() *ua.DataValue{}
	for i := range benchNodes {
		dv := server.DataValueFromValue(float64(i))
		values[fmt.Sprint(i)] = func() *ua.DataValue { return dv }
	}
	endpoint, _, err := serve(values)
	if err != nil {
		panic(err)
	}
	return endpoint
}

func benchNode(i int) string { return fmt.Sprintf("nsu=%s;s=%d", testSpace, i%benchNodes) }

// benchLoad is how many sessions read how many nodes each, and how often.
type benchLoad struct {
	sessions, nodes int
	every           time.Duration
}

// BenchmarkPolling polls servers at an interval and compares with plain clients
// of the library reading the same nodes. The server runs in a process of its
// own on the same machine.
func BenchmarkPolling(b *testing.B) {
	for _, r := range []benchLoad{{500, 20, time.Second}, {500, 100, 5 * time.Second}, {1, 50_000, 5 * time.Second}} {
		b.Run(fmt.Sprintf("%dx%d/%v", r.sessions, r.nodes, r.every), func(b *testing.B) { benchmarkPolling(b, r) })
	}
}

func benchmarkPolling(b *testing.B, r benchLoad) {
	settle, measured := 5*time.Second+r.every, 5*time.Second+5*r.every/2
	for b.Loop() {
		endpoint := collectortest.Elsewhere(b, "0")
		plain := collectortest.Measure(r.sessions, settle, measured, func(ctx context.Context, answered func(time.Duration)) {
			pollPlain(b, ctx, endpoint, r, answered)
		})
		endpoint = collectortest.Elsewhere(b, fmt.Sprint(chunkFor(r.nodes)))
		ours := collectortest.Measure(r.sessions, settle, measured, func(ctx context.Context, answered func(time.Duration)) {
			p := newPollerOf(b, endpoint, r, answered)
			defer p.Close()
			p.Run(ctx, func(collector.Snapshot) {})
		})
		if few := r.sessions * int(measured/r.every-1); ours.Reads < few || plain.Reads < few {
			b.Errorf("only %d and %d reads, want at least %d", ours.Reads, plain.Reads, few)
		}
		ours.Report(b, "ours")
		plain.Report(b, "plain")
		b.ReportMetric(ours.Processor/plain.Processor, "ours/plain-processor")
	}
}

// pollPlain is one client of the library for each session. It reads in the
// batches we read in.
func pollPlain(b *testing.B, ctx context.Context, endpoint string, r benchLoad, answered func(time.Duration)) {
	var all sync.WaitGroup
	for s := range r.sessions {
		all.Go(func() {
			client, err := library.NewClient(endpoint, library.SecurityPolicy("None"), library.SecurityModeString("None"), library.AuthAnonymous())
			if err == nil {
				err = client.Connect(ctx)
			}
			if err != nil {
				b.Error(err)
				return
			}
			defer client.Close(context.Background())
			var ids []*ua.ReadValueID
			for i := range r.nodes {
				ids = append(ids, &ua.ReadValueID{NodeID: ua.NewStringNodeID(1, fmt.Sprint((s*r.nodes+i)%benchNodes)), AttributeID: ua.AttributeIDValue})
			}
			for {
				tick := time.Now().Truncate(r.every).Add(r.every)
				if (poll.System{}).Sleep(ctx, time.Until(tick)) != nil {
					return
				}
				good := 0
				for from := 0; from < r.nodes; from += defaultBatch {
					res, err := client.Read(ctx, &ua.ReadRequest{TimestampsToReturn: ua.TimestampsToReturnBoth, NodesToRead: ids[from:min(from+defaultBatch, r.nodes)]})
					if err != nil {
						break
					}
					for _, v := range res.Results {
						if v.Status == ua.StatusOK && v.Value != nil {
							good++
						}
					}
				}
				if good == r.nodes {
					answered(time.Since(tick))
				}
			}
		})
	}
	all.Wait()
}

// watched is a source that tells when it was read.
type watched struct {
	*Source
	every    time.Duration
	answered func(time.Duration)
}

func (w watched) Read(ctx context.Context) ([]collector.Sample, error) {
	samples, err := w.Source.Read(ctx)
	for _, s := range samples {
		if s.Quality != good {
			return samples, err
		}
	}
	now := time.Now()
	w.answered(now.Sub(now.Truncate(w.every)))
	return samples, err
}

func newPollerOf(b *testing.B, endpoint string, r benchLoad, answered func(time.Duration)) *poll.Poller {
	var jobs []poll.Job
	for s := range r.sessions {
		var items []Item
		for i := range r.nodes {
			items = append(items, Item{Tag: collector.Tag(fmt.Sprintf("%d.%d", s, i)), Node: benchNode(s*r.nodes + i)})
		}
		src, err := New(Options{Name: fmt.Sprint(s), Endpoint: endpoint, Timeout: 10 * time.Second, Security: clear(), MaxNodesPerRead: defaultBatch}, items, poll.System{})
		if err != nil {
			b.Fatal(err)
		}
		jobs = append(jobs, poll.Job{Source: watched{src, r.every, answered}, Every: r.every})
	}
	p, err := poll.New(jobs, r.every, poll.System{})
	if err != nil {
		b.Fatal(err)
	}
	return p
}
