package opcua

import (
	"context"
	"fmt"
	"time"

	"bridlewatch/collector"
)

// connectShare is how many time-outs of one request a connection may take: it
// is made of several, and a small controller computes long over each key.
const connectShare = 5

// attempt is a connection that is being made. It outlives the read that began
// it, so that a server slower than the poll interval is reached all the same.
type attempt struct {
	cancel  context.CancelFunc
	done    chan struct{} // closed when session and err are valid
	session *session
	err     error
}

func (s *Source) begin() *attempt {
	ctx, cancel := context.WithTimeout(context.Background(), connectShare*s.opts.Timeout)
	a := &attempt{cancel: cancel, done: make(chan struct{})}
	go func() {
		defer close(a.done)
		defer cancel()
		a.session, a.err = open(ctx, s.opts, s.items)
	}()
	return a
}

// abandon ends the attempt and what it may have brought.
func (a *attempt) abandon() {
	a.cancel()
	<-a.done
	if a.session != nil {
		a.session.close()
	}
}

// ready makes sure that there is a session, or says why there is none yet.
func (s *Source) ready(ctx context.Context) error {
	if s.session != nil {
		return nil
	}
	if s.attempt == nil {
		s.began = s.clock.Now()
		s.attempt = s.begin()
	}
	a := s.attempt
	select {
	case <-a.done:
	case <-ctx.Done():
		return fmt.Errorf("connected to %s: %w, after %v", s.opts.Endpoint, collector.ErrNotYet, s.clock.Now().Sub(s.began).Round(10*time.Millisecond))
	}
	s.attempt = nil
	if a.err != nil {
		return a.err
	}
	s.session = a.session
	s.refusals.note(s.tags, s.session.why)
	if s.counters.connects.Add(1) > 1 {
		s.counters.reconnects.Add(1)
	}
	return nil
}
