package watch

import (
	"errors"
	"io"
	"runtime"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// batch is some snapshots one after another, read before the gauges look at
// them so that gauges can be evaluated side by side. It keeps what is evaluated
// of them: that goes from the processor that reads to the one that evaluates.
type batch struct {
	times []time.Time
	raw   []quantity.Reading // of all of them
	next  []collector.Sample // the snapshot that is read now
}

// A batch is small enough to stay in the cache of a processor between being
// read and being evaluated, and long enough for a gauge to get going.
const (
	batchSamples = 4096
	batchLeast   = 64 // snapshots
)

func newBatch(width int) *batch {
	n := max(batchLeast, batchSamples/max(1, width))
	return &batch{times: make([]time.Time, 0, n), raw: make([]quantity.Reading, n*width), next: make([]collector.Sample, width)}
}

// add appends the snapshot that was read. Field by field: a processor waits when
// it copies whole what it has just written in parts.
func (b *batch) add(at time.Time) {
	raw := b.raw[len(b.times)*len(b.next):][:len(b.next)]
	for i := range raw {
		r, s := &raw[i], &b.next[i]
		r.Value, r.Time, r.Quality, r.Reason = s.Value, s.Time, s.Quality, s.Reason
	}
	b.times = append(b.times, at)
}

// read fills the batch from history. At the end of history it stays empty.
func (b *batch) read(h History) error {
	b.times = b.times[:0]
	for len(b.times) < cap(b.times) {
		at, err := h.Next(b.next)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		b.add(at)
	}
	return nil
}

// through takes the unit through the snapshots of a batch; after is called
// behind each, while the unit is held.
func (u *unit) through(b *batch, after func(at time.Time)) {
	u.mu.Lock()
	defer u.mu.Unlock()
	for i, at := range b.times {
		raw := b.raw[i*len(b.next)+u.first:]
		for k := range u.lines {
			u.hear(k, &raw[k])
		}
		u.compare(at)
		after(at)
	}
}

// sideBySide runs a task for every unit, and first one beside them when it is
// not nil, on all processors. Each takes the next task when it is done with one.
func sideBySide(units []*unit, beside func() error, each func(k int, u *unit) error) error {
	var g errgroup.Group
	var next atomic.Int64
	if beside == nil {
		next.Store(1)
	}
	for range min(runtime.GOMAXPROCS(0), len(units)+1) {
		g.Go(func() error {
			for {
				switch k := int(next.Add(1)) - 2; {
				case k < 0:
					if err := beside(); err != nil {
						return err
					}
				case k < len(units):
					if err := each(k, units[k]); err != nil {
						return err
					}
				default:
					return nil
				}
			}
		})
	}
	return g.Wait()
}
