package watch

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"bridlewatch/compare"
)

// post is the work people booked for one unit since its last cycle.
type post struct {
	waiting atomic.Bool // there are works
	mu      sync.Mutex
	works   []compare.Work
}

// Post hands a maintenance record to a gauge. It returns at once; the record
// takes effect before the next comparison, so that no scan is compared half
// before and half after it.
func (w *Watch) Post(tag string, work compare.Work) error {
	i, ok := w.index[tag]
	if !ok {
		return fmt.Errorf("no gauge %s is watched; the record changes nothing here", tag)
	}
	p := &w.units[i].post
	p.mu.Lock()
	defer p.mu.Unlock()
	p.works = append(p.works, work)
	p.waiting.Store(true)
	return nil
}

// Remembers returns until when the detectors of a gauge know what happened:
// the time of the newest scan in their state; zero: they know nothing.
func (w *Watch) Remembers(tag string) time.Time {
	i, ok := w.index[tag]
	if !ok {
		return time.Time{}
	}
	u := w.units[i]
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.state.Last == 0 {
		return time.Time{}
	}
	return time.Unix(u.state.Last, 0)
}

// take empties the queue.
func (p *post) take() []compare.Work {
	if !p.waiting.Load() {
		return nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	works := p.works
	p.works = nil
	p.waiting.Store(false)
	return works
}

// maintain books what was posted, and of the past what was done by now. The
// caller holds u.mu.
func (u *unit) maintain(now time.Time) {
	for len(u.past) > 0 && !u.past[0].At.After(now) {
		u.state.Maintain(u.past[0])
		u.past = u.past[1:]
	}
	for _, work := range u.post.take() {
		u.state.Maintain(work)
	}
	u.snapshot.Isolated = u.state.ByRecord
}
