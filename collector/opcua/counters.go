package opcua

import (
	"context"
	"errors"
	"io"
	"net"
	"sync/atomic"

	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
)

// counters are read from any goroutine.
type counters struct {
	connects, reconnects, requests, timeouts, refusals, badFrames atomic.Uint64
}

// failed counts a read that brought nothing.
func (c *counters) failed(err error) {
	var status ua.StatusCode
	switch {
	case late(err):
		c.timeouts.Add(1)
	case errors.As(err, &status):
		c.refusals.Add(1)
	case errors.Is(err, io.EOF), errors.Is(err, net.ErrClosed): // cut
	default:
		c.badFrames.Add(1)
	}
}

// late says that no answer came in time.
func late(err error) bool {
	return errors.Is(err, ua.StatusBadTimeout) || errors.Is(err, context.DeadlineExceeded)
}

var _ collector.Counted = (*Source)(nil)

// Counters may be called at any time from any goroutine. The library does not
// tell how many bytes went by.
func (s *Source) Counters() collector.Counters {
	c := &s.counters
	return collector.Counters{
		Requests: c.requests.Load(), Timeouts: c.timeouts.Load(), Exceptions: c.refusals.Load(),
		BadFrames: c.badFrames.Load(), Reconnects: c.reconnects.Load(),
	}
}
