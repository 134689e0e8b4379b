package modbus

import (
	"errors"
	"fmt"
	"slices"
)

// place is what a request asks for.
type place struct {
	table             Table
	address, quantity int
}

func (p place) end() int { return p.address + p.quantity }

// errOwed says that a late answer could be taken for the one asked for.
var errOwed = errors.New("modbus: a late answer of the same length may still come, so the unit is not asked yet")

// readDistinct reads where answers carry no transaction identifier. While
// the unit owes an answer of the same shape, it asks for a few registers more
// at either end instead, so that no late answer can be taken for this one.
// Where the device refuses those, it waits; when enough time has passed it
// asks something of another shape first, whose answer or refusal shows that
// the device is past everything older.
func (u *unit) readDistinct(p place) ([]byte, error) {
	now, timeout := u.link.clock.Now(), u.link.endpoint.Timeout
	u.link.debts.writeOff(now, timeout)
	if !u.link.debts.owes(u.shapeOf(p)) {
		return u.askPlainly(p)
	}
	data, err := u.readWider(p)
	if !errors.Is(err, errOwed) {
		return data, err
	}
	if u.link.debts.younger(u.shapeOf(p), now, patience*timeout) {
		return nil, errOwed
	}
	if err := u.fence(p); err != nil {
		return nil, err
	}
	u.link.debts.writeOff(now, timeout)
	return u.askPlainly(p)
}

// askPlainly asks for a place of the plan. Until it has been read once, the
// unit may refuse it.
func (u *unit) askPlainly(p place) ([]byte, error) {
	if u.proven == nil {
		u.proven = map[place]bool{}
	}
	u.link.odd = !u.proven[p]
	data, err := u.askInOrder(p)
	u.link.odd = false
	if err == nil {
		u.proven[p] = true
	}
	return data, err
}

// owes says whether the answer to a block is outstanding.
func (u *unit) owes(b block) bool {
	return u.link.debts.owes(shapeOfRead(u.id, b.table, b.quantity))
}

func (u *unit) shapeOf(p place) shape { return shapeOfRead(u.id, p.table, p.quantity) }

// askInOrder asks and keeps the books. Data of a shape that is not owed prove
// that the device is past everything older. An exception has no shape of its
// own: while something is owed it may be the late answer to that, and the one
// to this request is still to come. A gateway that has given up waiting may
// still pass on what its device answers later.
func (u *unit) askInOrder(p place) ([]byte, error) {
	owing := u.link.debts.ofUnit(u.id)
	data, err := u.ask(p.table, p.address, p.quantity)
	var exception *ExceptionError
	switch {
	case err == nil:
		u.link.debts.fence(u.id)
	case !errors.As(err, &exception):
	case exception.illegal() && owing && u.link.debts.refusal(u.id):
	case exception.gateway() || owing:
		u.link.debts.enter(debt{shape: u.shapeOf(p), since: u.link.clock.Now(), odd: u.link.odd})
		err = fmt.Errorf("%w, perhaps late", err)
	}
	return data, err
}

// askOddly asks for a place the unit may refuse. When it does, and the refusal
// is not a late one, refused is true.
func (u *unit) askOddly(p place) (data []byte, refused bool, err error) {
	u.link.odd = true
	data, err = u.askInOrder(p)
	u.link.odd = false
	var exception *ExceptionError
	if errors.As(err, &exception) && exception.illegal() {
		if u.link.debts.owes(u.shapeOf(p)) {
			return nil, false, errOwed
		}
		return nil, true, nil
	}
	return data, false, err
}

// readWider reads a wider place and returns the bytes of p. It returns errOwed
// when there is none that the unit has not refused.
func (u *unit) readWider(p place) ([]byte, error) {
	for _, wide := range u.wider(p) {
		data, refused, err := u.askOddly(wide)
		switch {
		case err != nil:
			return nil, err
		case !refused:
			return wide.cut(data, p), nil
		}
		if u.tight == nil {
			u.tight = map[place]bool{}
		}
		u.tight[wide] = true
	}
	return nil, errOwed
}

// wider are the places around p, by a few registers or bytes of bits, whose
// answers nobody owes.
func (u *unit) wider(p place) []place {
	const most = 3
	step := 1
	if p.table.bits() {
		step = 8
	}
	var all []place
	for more := step; more <= most*step; more += step {
		for _, wide := range [2]place{{p.table, p.address, p.quantity + more}, {p.table, p.address - more, p.quantity + more}} {
			if u.allows(wide) {
				all = append(all, wide)
			}
		}
	}
	return all
}

// allows says whether a place may be asked and told apart.
func (u *unit) allows(p place) bool {
	barred := func(s Span) bool { return s.UnitID == int(u.id) && s.Table == p.table && s.bars(p.address, p.end()) }
	e := u.link.endpoint
	return p.address >= 0 && p.end() <= 65536 && p.quantity <= e.longest(p.table) &&
		!u.tight[p] && !u.link.debts.owes(u.shapeOf(p)) && !slices.ContainsFunc(e.Forbidden, barred)
}

// cut takes the bytes of a place out of those of a wider one, which starts at
// the same address or a whole number of bytes before.
func (p place) cut(data []byte, inner place) []byte {
	from, n := inner.address-p.address, inner.quantity
	if p.table.bits() {
		return data[from/8 : from/8+(n+7)/8]
	}
	return data[2*from : 2*(from+n)]
}

// fence asks for something near p of a shape that nobody owes. The answer is
// thrown away; a refusal is as good.
func (u *unit) fence(p place) error {
	other, step := p, 1
	if p.table.bits() {
		step = 8
	}
	for {
		if other.quantity += step; other.quantity > p.table.longest() || other.end() > 65536 {
			return errOwed
		}
		if !u.link.debts.owes(u.shapeOf(other)) {
			break
		}
	}
	_, _, err := u.askOddly(other)
	return err
}
