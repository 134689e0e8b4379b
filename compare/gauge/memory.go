package gauge

import (
	"math"

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
}

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
		last.model, last.inputs, last.conditions = m, now, conditions{}
		m.observe(in, &last.conditions.state)
		last.filled = m.fill(&last.conditions) == nil
	}
	last.conditions.rate = last.Rate
	return &last.conditions, last.filled
}
