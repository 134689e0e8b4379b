package modbus

import (
	"slices"
	"time"
)

// shape is all that tells an answer from another one where there are no
// transaction identifiers: the unit, the function and the number of bytes.
type shape struct {
	unit, function byte
	bytes          int
}

// shapeOf is the shape of the answer to a request that starts at the unit.
func shapeOf(request []byte) shape {
	return shape{unit: request[0], function: request[1], bytes: answerBytes(request[1:])}
}

// shapeOfRead is the shape of the answer to a read of a table.
func shapeOfRead(unit byte, table Table, quantity int) shape {
	bytes := 2 * quantity
	if table.bits() {
		bytes = (quantity + 7) / 8
	}
	return shape{unit: unit, function: table.function(), bytes: bytes}
}

// shapeOfAnswer is the shape of an answer that starts at the unit.
func shapeOfAnswer(answer []byte) shape {
	return shape{unit: answer[0], function: answer[1], bytes: int(answer[2])}
}

// debt is an answer that did not come in time. It may still come, and it
// must not be taken for the answer to a later request of the same shape.
type debt struct {
	shape  shape
	since  time.Time
	fenced bool // the unit has answered something asked later
	spoilt bool // something did come, but not fit to use
	odd    bool // asked for more than the unit is known to have, so that it may be refused
}

// debts are the answers a line owes, oldest first. While one is owed, nothing
// of its shape is asked. It is written off when both hold: enough time has
// passed, and the unit has answered something of another shape that was asked
// later, for a device answers in order. Time alone writes it off only when no
// device and no gateway can be so late.
type debts []debt

// Ages at which a debt is written off, the first in time-outs.
const (
	patience = 4
	forgiven = 2 * time.Minute
)

func (d *debts) enter(n debt) {
	d.forget(func(old debt) bool { return old.shape == n.shape })
	*d = append(*d, n)
}

// silence writes off the answers that came spoilt: the line has been quiet
// for a whole time-out since.
func (d *debts) silence() { d.forget(func(old debt) bool { return old.spoilt }) }

// writeOff drops what need not be feared any more.
func (d *debts) writeOff(now time.Time, timeout time.Duration) {
	d.forget(func(old debt) bool {
		age := now.Sub(old.since)
		return age > forgiven || old.fenced && age > patience*timeout
	})
}

// fence notes that a unit has answered in another shape.
func (d debts) fence(unit byte) {
	for i := range d {
		d[i].fenced = d[i].fenced || d[i].shape.unit == unit
	}
}

// refusal judges a refusal of addresses that a unit sends now. Only odd
// requests are refused, and in the order they were asked: while one is owed,
// the refusal may be the answer to the oldest of them. It shows that the unit
// is past that, and says nothing of the request just sent.
func (d debts) refusal(unit byte) (ofThisRequest bool) {
	ofThisRequest = true
	past := false // the oldest odd request whose answer was still to come
	for i, old := range d {
		if old.shape.unit != unit {
			continue
		}
		ofThisRequest = ofThisRequest && !old.odd
		d[i].fenced = old.fenced || !past
		past = past || old.odd && !old.fenced
	}
	return ofThisRequest
}

// paid forgets one debt and says whether there was one.
func (d *debts) paid(s shape) bool {
	before := len(*d)
	d.forget(func(old debt) bool { return old.shape == s })
	return len(*d) < before
}

func (d *debts) forget(which func(debt) bool) { *d = slices.DeleteFunc(*d, which) }

// owes says whether an answer of this shape may still come.
func (d debts) owes(s shape) bool {
	return slices.ContainsFunc(d, func(old debt) bool { return old.shape == s })
}

// ofUnit says whether a unit owes anything.
func (d debts) ofUnit(unit byte) bool {
	return slices.ContainsFunc(d, func(old debt) bool { return old.shape.unit == unit })
}

// younger says whether an answer of this shape is owed since less than age.
func (d debts) younger(s shape, now time.Time, age time.Duration) bool {
	return slices.ContainsFunc(d, func(old debt) bool { return old.shape == s && now.Sub(old.since) <= age })
}

// doubts are what came during a scan that nobody asked for. A whole frame
// may be the true answer to a request of its shape, whose value was then
// another's; anything else after a good answer says nothing of where it
// belongs.
type doubts struct {
	answered   bool // the last request of this scan, well
	shapes     []shape
	everything bool
}

// doubt notes a frame, from its unit on; nil for bytes that are none.
func (d *doubts) doubt(frame []byte) {
	switch {
	case frame != nil:
		d.shapes = append(d.shapes, shapeOfAnswer(frame))
	case d.answered:
		d.everything = true
	}
}

// about says whether an answer of this shape is in doubt.
func (d *doubts) about(s shape) bool {
	return d.everything || slices.Contains(d.shapes, s)
}

// any says whether anything is in doubt.
func (d *doubts) any() bool { return d.everything || len(d.shapes) > 0 }

// owe notes that the answer to a request is outstanding, or came spoilt.
func (l *link) owe(request []byte, spoilt bool) {
	if !l.endpoint.stream() {
		return
	}
	l.quiet = true
	l.debts.enter(debt{shape: shapeOf(l.unframed(request)), since: l.clock.Now(), spoilt: spoilt, odd: l.odd})
}

// unframed drops the header of Modbus TCP, so that the frame starts at the
// unit.
func (l *link) unframed(frame []byte) []byte {
	if l.endpoint.Framing == TCP {
		return frame[6:]
	}
	return frame
}
