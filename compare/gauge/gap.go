package gauge

import (
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// gaps compares the levels of every pair. out.Gaps are empty on entry.
func (m *Model) gaps(out *Measurement) {
	limit := m.sheet.Limits.Gap // between instruments of the chamber
	m.gap(&out.Float, &out.Transmitter, limit, &out.Gaps[FloatTransmitter])
	m.gap(&out.Float, &out.Second, limit, &out.Gaps[FloatSecond])
	m.gap(&out.Transmitter, &out.Second, limit, &out.Gaps[TransmitterSecond])
	m.gap(&out.Vessel, &out.Transmitter, 0, &out.Gaps[VesselTransmitter])
	m.gap(&out.Vessel, &out.Float, 0, &out.Gaps[VesselFloat])
	m.gap(&out.Vessel, &out.Second, 0, &out.Gaps[VesselSecond])
	if out.Isolated {
		m.isolate(out)
	}
}

// isolate withdraws the pairs whose two levels no longer look at the same
// liquid when the chamber is shut off.
func (m *Model) isolate(out *Measurement) {
	firstOn := m.first != nil && m.first.onSame
	secondOn := m.second != nil && m.second.onSame
	apart := [Pairs]bool{
		FloatTransmitter:  !firstOn,
		FloatSecond:       !secondOn,
		TransmitterSecond: firstOn != secondOn,
		VesselTransmitter: m.first == nil || !m.first.onVessel,
		VesselFloat:       true,
		VesselSecond:      m.second == nil || !m.second.onVessel,
	}
	for p, is := range apart {
		if is {
			out.Gaps[p] = Gap{Reason: quantity.Maintenance}
		}
	}
}

// gap compares two levels. The user's limit, where there is one, takes the
// place of the computed budget.
func (m *Model) gap(a, b *level.Level, limit quantity.Length, g *Gap) {
	if !a.OK() || !b.OK() {
		g.Reason = missing(a, b)
		return
	}
	if !m.common(a.Value) || !m.common(b.Value) {
		g.Reason = quantity.OutOfRange
		return
	}
	g.Value, g.U, g.OK = level.Difference(a, b)
	g.Budget = quantity.Length(m.coverage) * g.U
	if limit > 0 {
		g.Budget = limit
	}
}

// common reports whether both instruments can measure a level.
func (m *Model) common(h quantity.Length) bool {
	r := m.sheet.Limits.CommonRange
	return r[1] <= r[0] || (h >= r[0] && h <= r[1])
}

// missing says why one of two levels is no number. A level at a tap is out of
// the range of every comparison.
func missing(a, b *level.Level) quantity.Reason {
	switch {
	case a.Bound == level.None:
		return a.Reason
	case b.Bound == level.None:
		return b.Reason
	}
	return quantity.OutOfRange
}

// pair returns the two levels of a pair.
func (out *Measurement) pair(p Pair) (a, b *level.Level) {
	switch p {
	case VesselTransmitter:
		return &out.Vessel, &out.Transmitter
	case VesselFloat:
		return &out.Vessel, &out.Float
	case FloatSecond:
		return &out.Float, &out.Second
	case TransmitterSecond:
		return &out.Transmitter, &out.Second
	case VesselSecond:
		return &out.Vessel, &out.Second
	}
	return &out.Float, &out.Transmitter
}
