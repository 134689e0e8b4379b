package poll

import (
	"context"
	"sync"
	"time"
)

// limit is a context that ends at an instant, like that of
// context.WithDeadline, but has a timer only once somebody waits for its end:
// most sources just ask when it is, thousands of times a second in all. Like
// every deadline of a connection it is of the machine's clock.
type limit struct {
	context.Context // of the run
	until           time.Time

	mu     sync.Mutex
	timed  context.Context // nil until somebody waits
	cancel context.CancelFunc
	ended  bool
}

func (l *limit) Deadline() (time.Time, bool) { return l.until, true }

func (l *limit) Done() <-chan struct{} { return l.wait().Done() }

func (l *limit) Err() error {
	l.mu.Lock()
	timed, ended := l.timed, l.ended
	l.mu.Unlock()
	switch err := l.Context.Err(); {
	case timed != nil:
		return timed.Err()
	case err != nil:
		return err
	case ended:
		return context.Canceled
	case !time.Now().Before(l.until):
		return context.DeadlineExceeded
	}
	return nil
}

// AfterFunc is what context.AfterFunc and derived contexts call.
func (l *limit) AfterFunc(f func()) (stop func() bool) { return context.AfterFunc(l.wait(), f) }

// Whole is the context of the run. It has no deadline.
func (l *limit) Whole() context.Context { return l.Context }

// wait sets the timer.
func (l *limit) wait() context.Context {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.timed == nil {
		l.timed, l.cancel = context.WithDeadline(l.Context, l.until)
		if l.ended {
			l.cancel()
		}
	}
	return l.timed
}

// end frees what the limit holds; it has ended for whoever still waits.
func (l *limit) end() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.ended = true
	if l.cancel != nil {
		l.cancel()
	}
}
