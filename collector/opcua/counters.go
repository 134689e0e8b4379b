package opcua

import (
	"context"
	"crypto/x509"
	"errors"
	"io"
	"maps"
	"net"
	"slices"
	"sync"
	"sync/atomic"
	"time"

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

var _ collector.Conditioned = (*Source)(nil)

// Condition tells which nodes the server has not, and which of our
// certificates ends soon.
func (s *Source) Condition() collector.Condition {
	remarks := s.opts.Security.endings(s.clock.Now())
	s.refusals.Lock()
	defer s.refusals.Unlock()
	return collector.Condition{Refused: len(s.refusals.all), Remarks: append(remarks, s.refusals.all...)}
}

// endings are remarks on our certificates that end soon.
func (s Security) endings(now time.Time) (all []collector.Remark) {
	ours := map[string][]byte{"user": s.UserCertificate}
	if s.Identity != nil {
		ours["application"] = s.Identity.Certificate
	}
	for _, name := range slices.Sorted(maps.Keys(ours)) {
		c, err := x509.ParseCertificate(ours[name])
		if err != nil {
			continue
		}
		if what := collector.Expiry(c.NotAfter, now); what != "" {
			all = append(all, collector.Remark{What: name + " certificate " + what})
		}
	}
	return all
}

// refusals are the nodes that could not be found when the session was opened,
// for readers in other goroutines.
type refusals struct {
	sync.Mutex
	all []collector.Remark // never changed, only replaced
}

func (r *refusals) note(tags []collector.Tag, why []string) {
	var all []collector.Remark
	for i, w := range why {
		if w != "" {
			all = append(all, collector.Remark{Tags: tags[i : i+1], What: w})
		}
	}
	r.Lock()
	defer r.Unlock()
	r.all = all
}
