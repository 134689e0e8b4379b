package collectortest

import (
	"io"
	"os"
	"sync"
	"syscall"
	"time"
)

// End is one end of a connection in memory. It keeps what is written until it
// is read, as a socket does, and has deadlines, so that a test in fake time
// can use it in place of one.
type End struct {
	in, out *half
	linger  bool // Close is an ordinary close, not a reset
}

// half is one direction.
type half struct {
	mu      sync.Mutex
	changed sync.Cond
	data    []byte
	end     error // after the data; nil while open
	expired bool  // the deadline of the reader has passed
	timer   *time.Timer
}

// NewPipe makes a connection.
func NewPipe() (near, far *End) {
	a, b := newHalf(), newHalf()
	return &End{in: a, out: b, linger: true}, &End{in: b, out: a, linger: true}
}

func newHalf() *half {
	h := &half{}
	h.changed.L = &h.mu
	return h
}

// Read waits for bytes, the end or the deadline.
func (e *End) Read(b []byte) (int, error) {
	h := e.in
	h.mu.Lock()
	defer h.mu.Unlock()
	for {
		switch {
		case h.expired:
			return 0, os.ErrDeadlineExceeded
		case len(h.data) > 0:
			return h.take(b), nil
		case h.end != nil:
			return 0, h.end
		}
		h.changed.Wait()
	}
}

// ReadNow reads what is there without waiting.
func (e *End) ReadNow(b []byte) (int, error) {
	e.in.mu.Lock()
	defer e.in.mu.Unlock()
	if len(e.in.data) == 0 {
		return 0, e.in.end
	}
	return e.in.take(b), nil
}

func (h *half) take(b []byte) int {
	n := copy(b, h.data)
	h.data = h.data[n:]
	return n
}

// Write never waits.
func (e *End) Write(b []byte) (int, error) {
	h := e.out
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.end != nil {
		return 0, syscall.EPIPE
	}
	h.data = append(h.data, b...)
	h.changed.Broadcast()
	return len(b), nil
}

// SetDeadline ends reads at t.
func (e *End) SetDeadline(t time.Time) error {
	h := e.in
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.timer != nil {
		h.timer.Stop()
	}
	h.expired = time.Until(t) <= 0
	var timer *time.Timer
	timer = time.AfterFunc(time.Until(t), func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.expired = h.expired || h.timer == timer
		h.changed.Broadcast()
	})
	h.timer = timer
	h.changed.Broadcast()
	return nil
}

// SetLinger with 0 makes Close a reset: what is on the way is lost.
func (e *End) SetLinger(seconds int) error {
	e.linger = seconds != 0
	return nil
}

// Close ends both directions.
func (e *End) Close() error {
	e.out.close(io.EOF, !e.linger)
	e.in.close(os.ErrClosed, false)
	return nil
}

func (h *half) close(end error, reset bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.end != nil {
		return
	}
	h.end = end
	if reset {
		h.data, h.end = nil, syscall.ECONNRESET
	}
	if h.timer != nil {
		h.timer.Stop()
	}
	h.changed.Broadcast()
}
