package trial

import (
	"context"
	"errors"
	"io"
	"time"

	"golang.org/x/sync/errgroup"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/compare/scenario"
)

// block is how many snapshots are taken through one attempt after the other.
const block = 256

// runner is the second reading of history.
type runner struct {
	options  *Options
	own      *own
	base     *watch.Course
	faults   []scenario.Fault
	times    []time.Time // those to come
	attempts []*attempt  // by time, then by fault
	from     []int       // snapshot of the block each attempt begins at
	active   []int
}

// runAttempts takes every fault at every time through history, side by side.
func runAttempts(ctx context.Context, o *Options, w *own, faults []scenario.Fault, times []time.Time) ([]*attempt, error) {
	h, err := o.Open()
	if err != nil {
		return nil, err
	}
	base, err := watch.NewCourse(o.Gauge, o.Works)
	if err != nil {
		return nil, err
	}
	r := &runner{options: o, own: w, base: base, faults: faults, times: times}
	width := len(o.Gauge.Signals)
	at, samples := make([]time.Time, 0, block), make([]collector.Sample, block*width)
	for ended := false; !ended && (len(r.times) > 0 || len(r.active) > 0); {
		at = at[:0]
		for len(at) < block && !ended {
			now, err := h.Next(samples[len(at)*width:][:width])
			switch {
			case errors.Is(err, io.EOF):
				ended = true
			case err != nil:
				return nil, err
			default:
				at = append(at, now)
			}
		}
		if err := r.through(ctx, at, samples, width); err != nil {
			return nil, err
		}
		o.Step(h)
	}
	for _, a := range r.attempts {
		a.finish()
	}
	return r.attempts, ctx.Err()
}

// through takes a block of snapshots through the history as it is, which
// begins attempts, and then through every attempt.
func (r *runner) through(ctx context.Context, at []time.Time, samples []collector.Sample, width int) error {
	for k, now := range at {
		if len(r.times) == 0 {
			break
		}
		for len(r.times) > 0 && !r.times[0].After(now) {
			if err := r.begin(k, r.times[0]); err != nil {
				return err
			}
			r.times = r.times[1:]
		}
		r.base.Step(now, samples[k*width:][:width])
	}
	err := r.sideBySide(ctx, func(i int) {
		for k := r.from[i]; k < len(at); k++ {
			r.attempts[i].step(at[k], samples[k*width:][:width])
		}
		r.from[i] = 0
	})
	going := r.active[:0]
	for _, i := range r.active {
		if !r.attempts[i].done {
			going = append(going, i)
		}
	}
	r.active = going
	return err
}

// sideBySide steps the active attempts, on as many processors as may be used. With
// one it stays where it was called, which may be a thread of its own priority.
func (r *runner) sideBySide(ctx context.Context, step func(i int)) error {
	if r.options.Workers == 1 {
		for _, i := range r.active {
			if step(i); ctx.Err() != nil {
				break
			}
		}
		return ctx.Err()
	}
	var g errgroup.Group
	g.SetLimit(r.options.Workers)
	for _, i := range r.active {
		g.Go(func() error {
			step(i)
			return ctx.Err()
		})
	}
	return errors.Join(g.Wait(), ctx.Err())
}

// begin starts every fault before snapshot k of the block.
func (r *runner) begin(k int, onset time.Time) error {
	for _, f := range r.faults {
		a, err := newAttempt(r.options, r.own, r.base, f, onset)
		if err != nil {
			return err
		}
		r.active = append(r.active, len(r.attempts))
		r.attempts, r.from = append(r.attempts, a), append(r.from, k)
	}
	return nil
}
