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
	shape shape
	since time.Time
}

// debts are the answers a line owes, oldest first. A device answers in the
// order it is asked, so that an answer of another shape proves that nothing
// older can come any more. That is what a fence is: a request whose answer
// cannot be mistaken for one that is owed.
type debts []debt

// forgiven is the age at which a debt is given up: no device and no gateway
// answers later than this.
const forgiven = 2 * time.Minute

func (d *debts) add(s shape, now time.Time) {
	d.forget(func(old debt) bool { return old.shape == s || now.Sub(old.since) > forgiven })
	*d = append(*d, debt{shape: s, since: now})
}

// settle forgets everything a unit owes.
func (d *debts) settle(unit byte) {
	d.forget(func(old debt) bool { return old.shape.unit == unit })
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

// owe notes that the answer to a request is outstanding.
func (l *link) owe(request []byte) {
	if !l.endpoint.stream() {
		return
	}
	l.quiet = true
	l.debts.add(shapeOf(l.unframed(request)), l.clock.Now())
}

// unframed drops the header of Modbus TCP, so that the frame starts at the
// unit.
func (l *link) unframed(frame []byte) []byte {
	if l.endpoint.Framing == TCP {
		return frame[6:]
	}
	return frame
}

// fenceQuantity is a quantity near the asked one whose answer has a shape
// that the unit does not owe; ok is false when there is none.
func (d debts) fenceQuantity(unit byte, table Table, quantity, limit int) (n int, ok bool) {
	step := 1
	if table.bits() {
		step = 8 // bits come in bytes
	}
	for i := step; i <= limit; i += step {
		for _, n := range [2]int{quantity - i, quantity + i} {
			if n >= 1 && n <= limit && !d.owes(shapeOfRead(unit, table, n)) {
				return n, true
			}
		}
	}
	return 0, false
}
