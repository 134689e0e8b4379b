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

	model      *Model // nil: nothing yet
	inputs     inputs
	conditions conditions
	filled     bool
	water      *[isobars]water.Isobar // at pressures of late, where the vessel is under steam; nil: not yet
}

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

// recall brings the conditions of the snapshot, found again or remembered.
func (m *Model) recall(in *Snapshot, last *Memory) (c *conditions, filled bool) {
	now := inputsOf(in)
	if last.model != m || last.inputs != now {
		m.find(in, now, last)
	}
	last.conditions.rate = last.Rate
	return &last.conditions, last.filled
}

// find finds the conditions of a snapshot.
func (m *Model) find(in *Snapshot, now inputs, last *Memory) {
	if m.saturates && last.model == m && last.water == nil {
		last.water = new([isobars]water.Isobar) // from the second state on
	}
	last.model, last.inputs, last.conditions = m, now, conditions{}
	c, known := &last.conditions, last.isobar(now.pressure)
	if known != nil {
		c.water = *known
	}
	m.observe(in, &c.state)
	last.filled = m.fill(c) == nil
	if known != nil {
		*known = c.water // with what more was found of it
	}
}

// isobar is where water at a pressure is remembered, with whichever other
// pressure shares the place; nil where nothing is.
func (last *Memory) isobar(pressure uint64) *water.Isobar {
	const golden = 0x9E3779B97F4A7C15 // 2^64 over the golden ratio, spreads numbers that differ in few bits
	if last.water == nil {
		return nil
	}
	return &last.water[pressure*golden>>32%isobars]
}
