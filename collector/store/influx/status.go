package influx

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"bridlewatch/collector/store"
)

// Status is what a forwarder is doing.
type Status struct {
	Lag      time.Duration // age of the oldest value not sent; 0 when all are
	Since    time.Time     // of that value; zero when all are sent
	Waiting  int64         // about how many scans are not sent
	Sent     uint64        // lines acknowledged since the start
	Rejected uint64        // values refused for good since the start
	Trouble  string        // why it does not send, empty when it does
	Success  time.Time     // of the last acknowledged request
}

// Status returns what the forwarder is doing.
func (f *Forwarder) Status() Status {
	f.mu.Lock()
	defer f.mu.Unlock()
	s := f.status
	if !f.oldest.IsZero() { // it goes on aging between two attempts
		s.Lag = max(0, f.o.Now().Sub(f.oldest))
	}
	return s
}

func (f *Forwarder) note(change func(*Status)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(&f.status)
}

// backOff records trouble and returns how long to wait: as long as the server
// asks, else between half of wait and all of it.
func (f *Forwarder) backOff(err error, wait time.Duration) time.Duration {
	kind, asked := classify(err)
	text := err.Error()
	if kind == setup {
		text = explain(err)
	} else if timedOut(err) {
		text = fmt.Sprintf("the server gives no answer within %s (influx.timeout): %s", f.o.Timeout, err)
	}
	before := f.Status().Trouble
	f.note(func(s *Status) { s.Trouble = text })
	if before != text {
		f.o.Logger.Warn("forwarding waits", "to", f.o.Server.String(), "err", text)
	}
	return max(asked, wait/2+rand.N(wait/2+1))
}

// timedOut reports whether nobody answered in time, as when a server takes
// connections and is stuck.
func timedOut(err error) bool {
	var slow interface{ Timeout() bool }
	return errors.As(err, &slow) && slow.Timeout()
}

func (f *Forwarder) settled() {
	f.note(func(s *Status) {
		if s.Trouble != "" {
			f.o.Logger.Info("forwarding goes on", "to", f.o.Server.String())
		}
		s.Trouble = ""
	})
}

func (f *Forwarder) findOldest(ctx context.Context, c store.Cursor) error {
	oldest, rows, err := f.feed.Waiting(ctx, c)
	if err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.oldest, f.status.Since, f.status.Waiting = oldest, oldest, rows
	return nil
}
