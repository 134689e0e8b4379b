package modbus

import (
	"fmt"
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
	Why      []error         // beside each of Refused
	Signals  []collector.Tag // all of the unit
	Retrial  time.Time       // when refused addresses are tried again; zero when there are none
	Requests int             // of one scan, as it is read now
	LineTime time.Duration   // of these

	MaxRegisters, MaxBits int // it gives in one request, as it has shown; 0: no limit was met
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
		h.MaxRegisters, h.MaxBits = u.known.registers.shown(), u.known.bits.shown()
		h.Signals = u.tags
		for _, i := range u.fields {
			if u.known.refused[i] != nil {
				h.Refused = append(h.Refused, s.tags[i])
				h.Why = append(h.Why, fmt.Errorf("%s %d: %w", s.fields[i].Table, s.fields[i].Address, u.known.refused[i]))
			}
		}
		s.health.units = append(s.health.units, h)
	}
}

var _ collector.Conditioned = (*Source)(nil)

// Condition tells what is wrong with single units and signals.
func (s *Source) Condition() collector.Condition {
	var c collector.Condition
	for _, u := range s.Units() {
		c.LineTime += u.LineTime
		if !u.NotUntil.IsZero() {
			c.Remarks = append(c.Remarks, collector.Remark{Tags: u.Signals, What: fmt.Sprintf("unit %d does not answer, %d requests in a row; it is left alone until %s", u.UnitID, u.Failures, u.NotUntil.UTC().Format(time.RFC3339))})
		}
		for i, tag := range u.Refused {
			c.Refused++
			c.Remarks = append(c.Remarks, collector.Remark{Tags: []collector.Tag{tag}, What: fmt.Sprintf("unit %d refuses %v; tried again at %s", u.UnitID, u.Why[i], u.Retrial.UTC().Format(time.RFC3339))})
		}
		if u.MaxRegisters > 0 {
			c.Remarks = append(c.Remarks, collector.Remark{What: fmt.Sprintf("unit %d gives no more than %d registers in one request; write max_registers", u.UnitID, u.MaxRegisters)})
		}
		if u.MaxBits > 0 {
			c.Remarks = append(c.Remarks, collector.Remark{What: fmt.Sprintf("unit %d gives no more than %d bits in one request; write max_bits", u.UnitID, u.MaxBits)})
		}
	}
	return c
}
