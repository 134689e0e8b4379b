package modbus

import (
	"errors"
	"fmt"
	"time"
)

// explain turns the end of a scan into an error of ours.
func (l *link) explain(err error) error {
	if l.ctx.Err() != nil || isTimeout(err) {
		return errOutOfTime
	}
	return err
}

// failed keeps the discipline after a request without a good answer: what
// the line may still bring must never be taken for the answer to another
// request.
func (l *link) failed(request []byte, err error, waited time.Duration) error {
	var partial *partialError
	var stranger *strangerError
	switch {
	case isTimeout(err), l.ctx.Err() != nil:
		l.counters.timeouts.Add(1)
		l.silence++
		if errors.As(err, &partial) || l.endpoint.stream() && l.endpoint.Framing != RTU || l.silence >= silentLimit {
			l.Close()
		}
		l.owe(request, false)
		if waited*2 < l.endpoint.Timeout {
			return errOutOfTime
		}
		return l.noAnswer()
	case isCut(err):
		l.Close()
		l.owe(request, false)
		return err
	default: // an answer, but not ours
		l.counters.badFrames.Add(1)
		if l.endpoint.Framing != RTU {
			l.Close()
		}
		l.owe(request, !errors.As(err, &stranger))
		return err
	}
}

// noAnswer says so, and why when the answers come but late.
func (l *link) noAnswer() error {
	if now := l.counters.staleFrames.Load(); now > l.stale {
		l.stale = now
		return fmt.Errorf("%w; answers come, but later than %v: raise the time-out", ErrNoAnswer, l.endpoint.Timeout)
	}
	return ErrNoAnswer
}

// partialError is a timeout in the middle of a frame: the rest may follow,
// so the byte stream has lost its place.
type partialError struct{ err error }

func (e *partialError) Error() string { return "part of an answer: " + e.err.Error() }
func (e *partialError) Unwrap() error { return e.err }
