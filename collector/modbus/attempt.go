package modbus

import (
	"errors"
	"fmt"
	"time"
)

// readBlock reads one block and tells its fields. What cannot be read is
// told as Bad, each field by itself.
func (s *Source) readBlock(u *unit, b block) {
	now := s.clock.Now()
	switch {
	case s.down != nil:
		s.fail(b, s.down)
	case u.open(now):
		s.fail(b, fmt.Errorf("unit %d left alone for %v after %d requests: %w", u.id, u.until.Sub(now).Round(time.Second), u.failures, ErrNoAnswer))
	default:
		s.attempt(u, b)
	}
}

// attempt sends the request of a block, and again when the answer was
// damaged on the way. A refusal that may be a late one teaches nothing.
func (s *Source) attempt(u *unit, b block) {
	data, err := u.read(b.table, b.address, b.quantity)
	if damaged(err) {
		data, err = u.read(b.table, b.address, b.quantity)
	}
	s.count(u, err)
	var exception *ExceptionError
	var connect *ConnectError
	switch {
	case err == nil:
		u.taught = u.known.of(b.table).give(b.quantity) || u.taught
		s.tell(b, data)
	case errors.As(err, &exception) && exception.illegal() && !u.owes(b):
		s.bisect(u, b, exception)
	case errors.As(err, &connect):
		s.down = err
		s.fail(b, err)
	case isCut(err):
		if s.cuts++; s.cuts >= cutsAllowed {
			s.down = err
		}
		s.fail(b, err)
	default:
		s.fail(b, err)
	}
}

// count feeds the breaker of a unit. Silence and damage open it; whatever the
// unit itself answered closes it. A lost connection is nobody's fault.
func (s *Source) count(u *unit, err error) {
	var exception *ExceptionError
	answered := err == nil || errors.As(err, &exception) && !exception.gateway()
	s.answered = s.answered || answered
	if !answered && !unheard(err) {
		return
	}
	if u.note(answered, s.clock.Now(), s.endpoint.BreakAfter, s.endpoint.ProbeEvery) {
		s.counters.breakersOpen.Add(map[bool]int64{true: 1, false: -1}[u.tripped()])
	}
}

// bisect finds which part of a refused block the unit objects to, reads the
// rest, and remembers. A block of one field that is refused is a field that
// does not exist. Two halves that are both accepted and refused together were
// too long; if there is a hole between them, it may be the hole that must not
// be read across.
func (s *Source) bisect(u *unit, b block, exception *ExceptionError) {
	u.taught = true
	u.known.learned(s.clock.Now(), s.endpoint.Reprobe)
	if len(b.fields) == 1 {
		u.known.refuse(b.fields[0], exception)
		u.known.bar(Span{UnitID: int(u.id), Table: b.table, From: b.address, To: b.end()})
		s.fail(b, exception)
		return
	}
	left, right := split(b, s.fields)
	before := len(u.known.refused) + len(u.known.barred)
	s.readBlock(u, left)
	s.readBlock(u, right)
	switch limit := u.known.of(b.table); {
	case len(u.known.refused)+len(u.known.barred) > before:
	case left.end() < right.address:
		u.known.bar(Span{UnitID: int(u.id), Table: b.table, From: left.end(), To: right.address})
	case limit.given >= max(left.quantity, right.quantity):
		limit.refuse(b.quantity)
	}
}
