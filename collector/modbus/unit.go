package modbus

import (
	"errors"
	"time"

	library "github.com/goburrow/modbus"

	"bridlewatch/collector"
)

// unit is one device behind the connection.
type unit struct {
	id     byte
	client library.Client
	link   *link
	fields []int           // indices into Source.fields
	tags   []collector.Tag // of the fields
	plan   []block
	known  knowledge
	taught bool           // since the plan was made
	proven map[place]bool // read before
	tight  map[place]bool // refused, though what is within is not
	breaker
}

func newUnit(id byte, l *link) *unit {
	return &unit{id: id, client: library.NewClient2(newPackager(l.endpoint.Framing, int(id), &l.ids), l), link: l}
}

// read asks for one block and returns its bytes, which are valid until the
// next request.
func (u *unit) read(table Table, address, quantity int) ([]byte, error) {
	if !u.link.endpoint.stream() {
		return u.ask(table, address, quantity)
	}
	return u.readDistinct(place{table, address, quantity})
}

// ask sends one request through the library's client.
func (u *unit) ask(table Table, address, quantity int) ([]byte, error) {
	a, q := uint16(address), uint16(quantity)
	var data []byte
	var err error
	switch table {
	case Holding:
		data, err = u.client.ReadHoldingRegisters(a, q)
	case Input:
		data, err = u.client.ReadInputRegisters(a, q)
	case Coil:
		data, err = u.client.ReadCoils(a, q)
	case Discrete:
		data, err = u.client.ReadDiscreteInputs(a, q)
	}
	var exception *library.ModbusError
	if errors.As(err, &exception) {
		u.link.counters.exceptions.Add(1)
		return nil, &ExceptionError{UnitID: int(u.id), Function: int(exception.FunctionCode &^ 0x80), Code: int(exception.ExceptionCode)}
	}
	return data, err
}

// function is the function code that reads a table.
func (t Table) function() byte {
	switch t {
	case Coil:
		return library.FuncCodeReadCoils
	case Discrete:
		return library.FuncCodeReadDiscreteInputs
	case Input:
		return library.FuncCodeReadInputRegisters
	}
	return library.FuncCodeReadHoldingRegisters
}

// breaker leaves a unit alone that does not answer, so that the others keep
// their cadence. A probe is one request. The pauses between probes double, so
// that a unit that was away for a moment is soon back.
type breaker struct {
	failures int           // in a row
	until    time.Time     // not before this; zero when closed
	pause    time.Duration // the last
}

// firstPause is the first pause of a breaker as a fraction of the longest.
const firstPause = 16

// open says that the unit is left alone at now.
func (b *breaker) open(now time.Time) bool { return now.Before(b.until) }

// tripped says that the unit has been left alone and not answered since.
func (b *breaker) tripped() bool { return !b.until.IsZero() }

// note counts an outcome; it says whether the breaker changed.
func (b *breaker) note(answered bool, now time.Time, limit int, longest time.Duration) (changed bool) {
	before := b.tripped()
	if answered {
		*b = breaker{}
		return before
	}
	b.failures++
	if b.failures >= limit || before {
		b.pause = min(max(2*b.pause, longest/firstPause), longest)
		b.until = now.Add(b.pause)
	}
	return b.tripped() != before
}
