package poll

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"time"

	"bridlewatch/collector"
)

// Back-off of a source that cannot be reached.
const (
	firstPause = time.Second
	lastPause  = time.Minute
)

// patience is how many reads in a row may bring nothing usable before the
// source is made to connect anew, and the first of the ever longer waits for
// the next time: a connection that is up but carries nothing is not noticed
// by its owner.
const patience = 3

// worker reads one source.
type worker struct {
	job    Job
	first  int // index of its first tag in Poller.newest
	orders chan order
	rng    *rand.Rand // of the pause; used by the worker only

	mu     sync.Mutex
	stats  Stats
	resume time.Time // not before this after a failure
	pause  time.Duration
	skew   skew
	barren int // reads in a row without a usable sample
	renew  int // barren reads at which to connect anew
}

// order tells a worker to read.
type order struct {
	start time.Time // when it should
	round *round
}

func newWorker(job Job, seed uint64, first int) *worker {
	return &worker{
		job: job, first: first,
		rng:   rand.New(rand.NewPCG(seed, uint64(job.Every))),
		stats: Stats{Source: job.Source.Name(), Every: job.Every},
	}
}

// begin gives a worker an order, unless it is left alone or still busy.
func (w *worker) begin(o order) {
	if w.resting(o.start) {
		w.rest()
		o.round.done()
		return
	}
	select {
	case w.orders <- o:
	default:
		w.skip()
		o.round.done()
	}
}

// work obeys orders until there are no more.
func (w *worker) work(ctx context.Context, p *Poller) {
	for o := range w.orders {
		if !p.allowed() {
			o.round.done()
			continue
		}
		w.late(p.clock.Now().Sub(o.start))
		samples := w.read(ctx, p.clock)
		if ctx.Err() == nil && p.allowed() {
			p.keep(w, samples, time.Time{})
		}
		o.round.done()
	}
}

// read reads the source once and keeps the books. It has the interval less its
// phase and a twentieth, so that the source is free again when its next tick
// comes.
func (w *worker) read(ctx context.Context, clock collector.Clock) []collector.Sample {
	start := clock.Now()
	l := &limit{Context: ctx, until: time.Now().Add(w.job.Every - w.job.Every/20 - w.job.Phase)}
	defer l.end()
	samples, err := w.job.Source.Read(l)
	if w.book(start, clock.Now(), samples, err) {
		w.job.Source.Close() // what it could say is in the samples already
	}
	return samples
}

// book notes one read. It says whether the source should connect anew.
func (w *worker) book(start, end time.Time, samples []collector.Sample, err error) (renew bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	s := &w.stats
	s.Scans++
	s.LastDuration = end.Sub(start)
	s.MaxDuration = max(s.MaxDuration, s.LastDuration)
	s.Good, s.Bad = 0, 0
	for _, sample := range samples {
		if sample.Quality.Usable() {
			s.Good++
		} else {
			s.Bad++
		}
	}
	w.skew.note(samples)
	if errors.Is(err, collector.ErrNotYet) {
		s.LastError = err
		return false
	}
	if err == nil {
		s.LastSuccess, s.LastError = end, nil
		w.pause, w.resume = 0, time.Time{}
	} else {
		s.Failures++
		s.LastError = err
		w.pause = min(max(2*w.pause, firstPause), lastPause)
		w.resume = start.Add(time.Duration(w.rng.Float64() * float64(w.pause)))
	}
	return w.lookAfter(s.Good > 0)
}

// lookAfter counts reads that bring nothing.
func (w *worker) lookAfter(usable bool) (renew bool) {
	if usable {
		w.barren, w.renew = 0, patience
		return false
	}
	w.barren++
	if w.renew == 0 || w.barren < w.renew { // 0: there has never been a usable sample
		return false
	}
	w.renew *= 2
	w.stats.Renewed++
	return true
}

// resting says that the source is left alone at now.
func (w *worker) resting(now time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return now.Before(w.resume)
}

// skip counts a tick the source was too busy for.
func (w *worker) skip() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stats.Skipped++
}

// rest counts a tick the source was left alone at.
func (w *worker) rest() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stats.Rested++
}

// late notes how long after its tick a read began.
func (w *worker) late(by time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stats.Lateness = by
	w.stats.MaxLateness = max(w.stats.MaxLateness, by)
	if by > w.job.Every/10 {
		w.stats.Late++
	}
}
