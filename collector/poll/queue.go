package poll

import (
	"slices"
	"time"
)

// queue holds the orders whose time has not come, the next one first.
type queue struct {
	all  []waiting
	head int // of what is still to give
}

// waiting is an order for a worker, and when to give it.
type waiting struct {
	at     time.Time // with a monotonic reading
	worker *worker
	order  order
}

// add takes an order, which is late already when its start is before now.
func (q *queue) add(w *worker, o order, now time.Time) {
	at := now.Add(o.start.Sub(wall(now)))
	place := len(q.all)
	for place > q.head && q.all[place-1].at.After(at) {
		place--
	}
	q.all = slices.Insert(q.all, place, waiting{at, w, o})
}

// within is how long to wait for the next order, and no longer than most.
func (q *queue) within(now time.Time, most time.Duration) time.Duration {
	if q.head == len(q.all) {
		return most
	}
	return min(most, q.all[q.head].at.Sub(now))
}

// release gives the orders whose time has come. What was given is dropped once
// it is the larger part, so that orders that always overlap keep nothing.
func (q *queue) release(now time.Time) {
	for ; q.head < len(q.all) && !q.all[q.head].at.After(now); q.head++ {
		q.all[q.head].worker.begin(q.all[q.head].order)
	}
	if 2*q.head >= len(q.all) {
		q.all, q.head = slices.Delete(q.all, 0, q.head), 0
	}
}
