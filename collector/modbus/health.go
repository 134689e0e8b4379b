package modbus

import (
	"slices"
	"sync"
	"time"

	"bridlewatch/collector"
)

// UnitHealth is how one unit behind an endpoint fares.
type UnitHealth struct {
	UnitID   int
	Failures int             // requests in a row without a usable answer
	NotUntil time.Time       // left alone until then; zero when it is read
	Refused  []collector.Tag // signals whose addresses it refuses
	Retrial  time.Time       // when refused addresses are tried again; zero when there are none
	Requests int             // of one scan, as it is read now
	LineTime time.Duration   // of these
}

// health is the state of the units after the last scan, for readers in other
// goroutines.
type health struct {
	mu    sync.Mutex
	units []UnitHealth
}

// Units tells how each unit fares, in the order of the fields. It may be
// called at any time from any goroutine.
func (s *Source) Units() []UnitHealth {
	s.health.mu.Lock()
	defer s.health.mu.Unlock()
	return slices.Clone(s.health.units)
}

// publish takes the state of the units after a scan.
func (s *Source) publish() {
	s.health.mu.Lock()
	defer s.health.mu.Unlock()
	s.health.units = s.health.units[:0]
	for _, u := range s.units {
		h := UnitHealth{UnitID: int(u.id), Failures: u.failures, NotUntil: u.until, Retrial: u.known.again, Requests: len(u.plan)}
		for _, b := range u.plan {
			h.LineTime += s.endpoint.requestTime(b.table, b.quantity)
		}
		for _, i := range u.fields {
			if u.known.refused[i] != nil {
				h.Refused = append(h.Refused, s.tags[i])
			}
		}
		s.health.units = append(s.health.units, h)
	}
}
