package watch

import (
	"context"
	"fmt"
	"io"
	"math"
	"runtime"
	"testing"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
)

// reel is history in memory, column by column: a year of it fits where a year
// of samples would not. It gives the same samples again for every gauge of a
// configuration.
type reel struct {
	times   []int64      // Unix seconds
	columns []reelColumn // by signal of one gauge
	next    int
}

type reelColumn struct {
	values  []float64
	quality []quantity.Quality
}

func wind(f *film) *reel {
	r := &reel{columns: make([]reelColumn, len(f.shots[0].Samples))}
	for _, shot := range f.shots {
		r.times = append(r.times, shot.Time.Unix())
		for i, s := range shot.Samples {
			c := &r.columns[i]
			c.values, c.quality = append(c.values, s.Value), append(c.quality, s.Quality)
		}
	}
	return r
}

// rounded makes every value a whole number, which is all a register holds.
func (r *reel) rounded() *reel {
	for _, c := range r.columns {
		for i, v := range c.values {
			c.values[i] = math.Round(v)
		}
	}
	return r
}

func (r *reel) Next(samples []collector.Sample) (time.Time, error) {
	if r.next == len(r.times) {
		return time.Time{}, io.EOF
	}
	at := time.Unix(r.times[r.next], 0).UTC()
	for rest := samples; len(rest) > 0; rest = rest[len(r.columns):] {
		for i := range r.columns {
			s, c := &rest[i], &r.columns[i]
			s.Value, s.Quality = c.values[r.next], c.quality[r.next]
			s.Time, s.SourceTime = at, at
		}
	}
	r.next++
	return at, nil
}

// One operation is a replay, from memory, of six hours of one gauge with six
// signals that all move and are scanned every second: as its 16-bit registers
// hold them, and with values of which none ever comes again. A year is 31.5
// million such scans.
func BenchmarkReplay(b *testing.B) {
	f := shootEvery(b, time.Second, "LG-104", 6*time.Hour)
	for _, k := range []struct {
		name string
		reel *reel
	}{{"registers", wind(f).rounded()}, {"new values", wind(f)}} {
		b.Run(k.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				replayReel(b, f.config, k.reel)
			}
			b.ReportMetric(perScan(b, len(k.reel.times)), "ns/scan")
			b.ReportMetric(float64(len(k.reel.columns)), "signals")
		})
	}
}

func replayReel(b *testing.B, cfg *config.Config, r *reel) {
	b.Helper()
	r.next = 0
	if _, err := Replay(context.Background(), cfg, r, nil, func(Change) {}, nil); err != nil {
		b.Fatal(err)
	}
}

func perScan(b *testing.B, scans int) float64 {
	return float64(b.Elapsed().Nanoseconds()) / float64(b.N) / float64(scans)
}

// Sixteen gauges on one processor and on all, in one run: the metric is how
// many times faster all of them are.
func BenchmarkReplayOfManyGauges(b *testing.B) {
	const gauges = 16
	f := shootEvery(b, time.Second, "LG-104", 20*time.Minute)
	cfg := *f.config
	cfg.Gauges = nil
	for k := range gauges {
		g := f.config.Gauges[0]
		g.Sheet.Tag = fmt.Sprintf("LG-%d", 900+k)
		cfg.Gauges = append(cfg.Gauges, g)
	}
	r := wind(f)
	all := runtime.GOMAXPROCS(0)
	var took [2]time.Duration
	for b.Loop() {
		for i, procs := range []int{1, all} {
			runtime.GOMAXPROCS(procs)
			began := time.Now()
			replayReel(b, &cfg, r)
			took[i] += time.Since(began)
		}
	}
	runtime.GOMAXPROCS(all)
	b.ReportMetric(float64(took[0])/float64(took[1]), "times-faster")
	b.ReportMetric(float64(all), "processors")
}
