package poll

import (
	"time"

	"bridlewatch/collector"
)

// Stats is what the poller knows about one source.
type Stats struct {
	Source       string
	Every        time.Duration
	Scans        uint64        // reads done
	Failures     uint64        // reads that brought nothing at all
	Renewed      uint64        // times it was made to connect anew because nothing usable came
	Skipped      uint64        // ticks it was still busy at
	Rested       uint64        // ticks it was left alone at after failures
	Late         uint64        // reads that began more than a tenth of the interval late
	Lateness     time.Duration // of the last read
	MaxLateness  time.Duration
	LastDuration time.Duration
	MaxDuration  time.Duration
	LastSuccess  time.Time     // zero: never
	LastError    error         // nil after a success
	Age          time.Duration // since LastSuccess; 0 when there was none
	Good, Bad    int           // samples of the last read

	Skew      time.Duration // how far the clock of the source is behind ours, by the fastest sample lately
	SkewKnown bool          // false when it gives no times of its own

	collector.Counters  // zero for a source that does not count
	collector.Condition // likewise
}

// ClockStep is a jump of the wall clock against the monotonic one.
type ClockStep struct {
	At time.Time     // when it was noticed, by the new time
	By time.Duration // positive: forwards
}

// Stats returns the books of every source in the order of the jobs. It may
// be called at any time.
func (p *Poller) Stats() []Stats {
	all := make([]Stats, len(p.workers))
	for i, w := range p.workers {
		all[i] = w.books(p.clock.Now())
	}
	return all
}

func (w *worker) books(now time.Time) Stats {
	w.mu.Lock()
	defer w.mu.Unlock()
	s := w.stats
	if !s.LastSuccess.IsZero() {
		s.Age = now.Sub(s.LastSuccess)
	}
	s.Skew, s.SkewKnown = w.skew.estimate()
	if c, ok := w.job.Source.(collector.Counted); ok {
		s.Counters = c.Counters()
	}
	if c, ok := w.job.Source.(collector.Conditioned); ok {
		s.Condition = c.Condition()
	}
	return s
}

// SkippedSnapshots counts the scan ticks at which the receiver was still busy
// with an earlier snapshot.
func (p *Poller) SkippedSnapshots() uint64 {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.skipped
}

// ClockSteps returns the jumps of the wall clock noticed so far, the latest
// 100 at most.
func (p *Poller) ClockSteps() []ClockStep {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]ClockStep(nil), p.steps...)
}
