package poll

import (
	"context"
	"sync"
	"sync/atomic"
	"time"

	"bridlewatch/collector"
)

// stepLimit is how far wall clock and monotonic clock may drift apart
// between two ticks before it is a step.
const stepLimit = 2 * time.Second

// stepsKept is how many steps are remembered.
const stepsKept = 100

// round is the set of reads ordered at one instant.
type round struct {
	open     atomic.Int32
	complete chan struct{} // closed when every read has ended
}

func newRound() *round {
	r := &round{complete: make(chan struct{})}
	r.open.Store(1) // held by who gives the orders
	return r
}

func (r *round) done() {
	if r.open.Add(-1) == 0 {
		close(r.complete)
	}
}

// turn is a scan tick and the reads its snapshot waits for.
type turn struct {
	tick  time.Time
	round *round
}

// Run reads every source at its ticks until ctx ends and calls each with a
// snapshot at every scan tick: as soon as the reads of that tick have ended,
// and after half a scan interval in any case. The time of the snapshot is the
// tick. Calls do not overlap; a tick that comes while one is running is
// skipped and counted. Run returns when every worker has ended.
func (p *Poller) Run(ctx context.Context, each func(collector.Snapshot)) error {
	var all sync.WaitGroup
	for _, w := range p.workers {
		w.orders = make(chan order)
		all.Go(func() { w.work(ctx, p) })
	}
	turns := make(chan turn)
	all.Go(func() { p.assemble(ctx, turns, each) })
	err := p.schedule(ctx, turns)
	for _, w := range p.workers {
		close(w.orders)
	}
	all.Wait()
	return err
}

// schedule gives the orders. Ticks that pass while it is held up are left
// out. One timer serves every worker.
func (p *Poller) schedule(ctx context.Context, turns chan<- turn) error {
	var waiting queue
	for last := p.clock.Now(); ; {
		tick, now := p.next(last), p.clock.Now()
		if err := p.clock.Sleep(ctx, waiting.within(now, tick.Sub(wall(now)))); err != nil {
			return err
		}
		now = p.clock.Now()
		p.noteStep(wall(last), wall(now), now.Sub(last))
		if last = now; !wall(now).Before(tick) {
			p.order(ctx, tick, now, &waiting, turns)
		}
		waiting.release(now)
	}
}

// wall is an instant without its monotonic reading.
func wall(t time.Time) time.Time { return t.Round(0) }

// next is the first instant after t at which a source or a snapshot is due.
func (p *Poller) next(t time.Time) time.Time {
	tick := align(t, p.every)
	for _, every := range p.intervals {
		if own := align(t, every); own.Before(tick) {
			tick = own
		}
	}
	return tick
}

// align is the first multiple of the interval after t, counted from the
// Unix epoch.
func align(t time.Time, every time.Duration) time.Time {
	since := wall(t).Sub(time.Unix(0, 0))
	return time.Unix(0, 0).Add(since - since%every + every)
}

// due says whether tick is a multiple of the interval.
func due(tick time.Time, every time.Duration) bool {
	return tick.Sub(time.Unix(0, 0))%every == 0
}

// order has every worker that is due read when its phase has passed, and the
// assembler wait for them.
func (p *Poller) order(ctx context.Context, tick, now time.Time, waiting *queue, turns chan<- turn) {
	r := newRound()
	defer r.done()
	for _, w := range p.byPhase {
		if due(tick, w.job.Every) {
			r.open.Add(1)
			waiting.add(w, order{tick.Add(w.job.Phase), r}, now)
		}
	}
	if !due(tick, p.every) {
		return
	}
	select {
	case turns <- turn{tick, r}:
	case <-ctx.Done():
	default:
		p.mu.Lock()
		p.skipped++
		p.mu.Unlock()
	}
}

// assemble makes the snapshots.
func (p *Poller) assemble(ctx context.Context, turns <-chan turn, each func(collector.Snapshot)) {
	for {
		select {
		case <-ctx.Done():
			return
		case t := <-turns:
			grace, cancel := context.WithTimeout(ctx, p.every/2)
			select {
			case <-t.round.complete:
			case <-grace.Done():
			}
			cancel()
			if ctx.Err() != nil {
				return
			}
			if !p.allowed() {
				continue
			}
			each(p.snapshot(t.tick, p.clock.Now()))
		}
	}
}

// noteStep records a jump of the wall clock between two readings of it that
// are elapsed apart by the monotonic clock.
func (p *Poller) noteStep(before, now time.Time, elapsed time.Duration) {
	by := now.Sub(before) - elapsed
	if by.Abs() < stepLimit {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.stepCount++
	if len(p.steps) == stepsKept {
		p.steps = append(p.steps[:0], p.steps[1:]...)
	}
	p.steps = append(p.steps, ClockStep{At: now, By: by})
}
