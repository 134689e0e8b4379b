package gauge

import (
	"math"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// Memory keeps the conditions of one gauge at the last instant. Where the
// readings they are found from are bit for bit those of that instant, so is
// everything that follows from them, and nothing is found again: most
// pressures and temperatures move more slowly than they are read. The zero
// value remembers nothing. It belongs to one gauge and one goroutine.
type Memory struct {
	// Rate is how fast the level moves, m/s, where the one who follows it
	// knows. It prices readings that are not of the instant of the snapshot.
	Rate float64

	model *Model // nil: nothing yet
	last  remembered
	many  *shelf                 // instead of the last; nil: only the last
	water *[isobars]water.Isobar // at pressures of late, where the vessel is under steam; nil: not yet
}

// remembered is the conditions of one set of readings.
type remembered struct {
	known      bool
	filled     bool
	inside     bool // the data sheet
	inputs     inputs
	conditions conditions
}

// shelf holds the conditions of some readings in drawers: each for those that
// share a place, and the one filled first is emptied first. What is looked
// through stands together.
type shelf struct {
	labels [drawers][deep]inputs
	next   [drawers]uint8
	states [drawers][deep]remembered
}

// Two registers that go up and down a few dozen of their steps meet in some
// hundred ways within an hour.
const (
	drawers = 128
	deep    = 4
)

// KeepMany has the memory keep the conditions of some hundred instants, in a
// quarter of a megabyte: for history, which is evaluated much faster than new
// readings come.
func (last *Memory) KeepMany() { last.many = new(shelf) }

// isobars is how many pressures are remembered. A transmitter's register goes
// up and down a few dozen of its steps within minutes.
const isobars = 64

// inputs are the readings the conditions depend on, as bits, so that two are
// equal only when every digit is.
type inputs struct{ pressure, temperature, chamber, density uint64 }

// noReading stands for a reading that cannot be computed with; sound readings
// are never NaN.
var noReading = math.Float64bits(math.NaN())

func inputsOf(in *Snapshot) inputs {
	return inputs{bits(&in.Pressure), bits(&in.Temperature), bits(&in.ChamberTemperature), bits(&in.Density)}
}

func bits(r *quantity.Reading) uint64 {
	if !sound(r) {
		return noReading
	}
	return math.Float64bits(r.Value)
}

// golden is 2^64 over the golden ratio: a product with it spreads numbers that
// differ in few bits over its upper bits.
const golden = 0x9E3779B97F4A7C15

func (i *inputs) hash() uint64 {
	return (((i.pressure*golden+i.temperature)*golden+i.chamber)*golden + i.density) * golden >> 32
}

// recall brings the conditions of the snapshot, found again or remembered.
func (m *Model) recall(in *Snapshot, last *Memory) *remembered {
	if last.model != m && last.model != nil {
		last.forget()
	}
	now := inputsOf(in)
	r := last.place(&now)
	if !r.known || r.inputs != now {
		m.find(in, now, r, last)
	}
	r.conditions.rate = last.Rate
	return r
}

// forget drops what is known of another gauge. Water is water everywhere.
func (last *Memory) forget() {
	last.last = remembered{}
	if last.many != nil {
		*last.many = shelf{}
	}
}

// place returns where the conditions of some readings are, or belong.
func (last *Memory) place(now *inputs) *remembered {
	if last.many == nil {
		return &last.last
	}
	return last.many.place(now)
}

func (s *shelf) place(now *inputs) *remembered {
	d := now.hash() % drawers
	for i := range s.labels[d] {
		if s.labels[d][i] == *now {
			return &s.states[d][i]
		}
	}
	k := s.next[d]
	s.labels[d][k], s.next[d] = *now, (k+1)%deep
	return &s.states[d][k]
}

// find finds the conditions of a snapshot.
func (m *Model) find(in *Snapshot, now inputs, r *remembered, last *Memory) {
	if m.saturates && last.model == m && last.water == nil {
		last.water = new([isobars]water.Isobar) // from the second state on
	}
	last.model = m
	*r = remembered{known: true, inputs: now}
	c, known := &r.conditions, last.isobar(now.pressure)
	if known != nil {
		c.water = *known
	}
	m.observe(in, &c.state)
	r.filled = m.fill(c) == nil
	if known != nil {
		*known = c.water // with what more was found of it
	}
}

// isobar is where water at a pressure is remembered, with whichever other
// pressure shares the place; nil where nothing is.
func (last *Memory) isobar(pressure uint64) *water.Isobar {
	if last.water == nil {
		return nil
	}
	return &last.water[pressure*golden>>32%isobars]
}
