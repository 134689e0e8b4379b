package gauge

import (
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/vessel"
)

// Measure says everything physics can say about one instant: levels with
// their uncertainties, gaps with their budgets, densities and limits. It is
// pure, does not allocate in the usual case (a state that a fluid model
// refuses, or one outside the data sheet, may) and may be called from several
// goroutines. out is overwritten whole.
//
// What cannot be found is typed: a Level without a number has a Bound or a
// Reason. No value is ever NaN or infinite.
func (m *Model) Measure(in *Snapshot, out *Measurement) {
	var nothing Memory
	m.MeasureNext(in, &nothing, out)
}

// MeasureNext is Measure for one instant after another: the same result, with
// the conditions of the last instant where its readings still stand.
func (m *Model) MeasureNext(in *Snapshot, last *Memory, out *Measurement) {
	r := m.recall(in, last)
	m.levels(in, &r.conditions, r.filled, out)
	if !r.inside {
		m.outside(&r.conditions, out)
		r.inside = len(out.OutsideDataSheet) == 0
	}
	if r.filled {
		m.outsideRadar(m.first, &out.Transmitter, out)
		m.outsideRadar(m.second, &out.Second, out)
	}
}

// levels makes everything of the readings that the conditions allow.
func (m *Model) levels(in *Snapshot, c *conditions, filled bool, out *Measurement) {
	*out = Measurement{Time: in.Time, Isolated: in.Isolated}
	m.report(c, filled, out)

	m.floatLevel(in, c, filled, out)
	m.carried(m.first, &in.Transmitter, in, c, filled, &out.Transmitter)
	m.carried(m.second, &in.Second, in, c, filled, &out.Second)
	m.vesselLevel(in, c, filled, out)
	m.inVessel(c, filled, out)

	for i := range m.sheet.Points {
		out.Points[i] = contact(&in.Points[i])
	}
	m.gaps(out)
}

// report copies the conditions to the measurement.
func (m *Model) report(c *conditions, filled bool, out *Measurement) {
	out.PressureUsed = quantity.Pressure(c.pressure)
	out.TemperatureUsed = quantity.Temperature(c.vessel)
	out.ChamberTempUsed = quantity.Temperature(c.chamber)
	out.Assumed = c.assumed
	out.DensityOK = filled
	if !filled {
		return
	}
	out.Liquid, out.Gas = quantity.Density(c.inChamber.liquid), quantity.Density(c.inChamber.gas)
	out.LiquidU, out.LiquidModelU = quantity.Density(c.uLiquid), quantity.Density(c.inChamber.byModel)
	out.VesselLiquid, out.VesselGas = quantity.Density(c.inVessel.liquid), quantity.Density(c.inVessel.gas)
	if m.float != nil {
		out.DensityRatio = float64(m.builtFor)/c.inChamber.liquid - 1
		out.FloatReserve = c.float.reserve
	}
}

// stand puts a value between the taps, or says at which tap it is.
func (m *Model) stand(h quantity.Length, l *level.Level) bool {
	bind(l, vessel.Between(h, m.sheet.Chamber.CentreToCentre), m.sheet.Chamber.CentreToCentre)
	switch l.Bound {
	case level.Within:
		l.Value = h
		return true
	case level.None:
		l.Reason = quantity.ConversionFailed
	}
	return false
}

// bind says between or beyond which taps a level is, and where that tap is.
func bind(l *level.Level, at level.Bound, span quantity.Length) {
	if l.Bound = at; at == level.AboveUpperTap {
		l.AtTap = span
	}
}

// sound reports whether a reading may be computed with. A number that is none
// should never come this far; here it ends.
func sound(r *quantity.Reading) bool {
	return r.Quality.Usable() && r.Value-r.Value == 0
}

// usable copies a reading's quality to the level and reports whether a level
// can be made of it.
func usable(r *quantity.Reading, l *level.Level) bool {
	l.Reason = r.Reason
	if !sound(r) {
		if r.Quality.Usable() {
			l.Reason = quantity.NotANumber
		}
		if l.Reason == quantity.NoReason {
			l.Reason = quantity.NotRead
		}
		return false
	}
	l.Marked = r.Quality == quantity.Uncertain
	return true
}

// skew prices a sample that is not of the instant of the snapshot.
func (c *conditions) skew(in *Snapshot, r *quantity.Reading) float64 {
	if c.rate == 0 || r.Time.Equal(in.Time) || r.Time.IsZero() || in.Time.IsZero() {
		return 0
	}
	return c.rate * r.Time.Sub(in.Time).Seconds()
}

func contact(r *quantity.Reading) Switch {
	switch {
	case !sound(r):
		return Unknown
	case r.Value >= 0.5:
		return Wet
	}
	return Dry
}

// carried makes a chamber level of a transmitter's reading. What an instrument on
// the vessel says is carried over.
func (m *Model) carried(t *transmitter, r *quantity.Reading, in *Snapshot, c *conditions, filled bool, l *level.Level) {
	m.byTransmitter(t, r, in, c, filled, l)
	if t == nil || !t.onVessel {
		return
	}
	if l.OK() {
		m.carry(c, l)
	} else if l.Bound != level.None {
		l.AtTap = c.balance.ChamberUnbounded(l.AtTap)
	}
}

// byTransmitter makes a level of a transmitter's reading where the transmitter is: one on
// the vessel is solved with the vessel's densities.
func (m *Model) byTransmitter(t *transmitter, r *quantity.Reading, in *Snapshot, c *conditions, filled bool, l *level.Level) {
	if t == nil {
		l.Reason = quantity.NotRead
		return
	}
	if !usable(r, l) {
		return
	}
	if !filled {
		l.Reason = quantity.ConversionFailed
		return
	}
	m.solve(t, quantity.Length(r.Value), c, l)
	if !l.OK() {
		return
	}
	l.Parts[t.signal] += t.uInput
	l.Parts[level.Skew] = c.skew(in, r)
}

// carry takes a vessel level over the hydrostatic balance to the chamber, its
// parts with it.
func (m *Model) carry(c *conditions, l *level.Level) {
	b := &c.balance
	hc, at := b.InChamber(l.Value)
	across(c, l, l, hc, at, b.OfChamber(hc, l.Value))
}

// across makes l of a level on the other side of the balance, which may be l
// itself.
func across(c *conditions, of, l *level.Level, h quantity.Length, at level.Bound, s vessel.Sensitivity) {
	l.Basis, l.Reason, l.Marked = of.Basis, of.Reason, of.Marked
	l.Value = h
	bind(l, at, c.balance.Span)
	if at != level.Within {
		l.Value, l.Parts = 0, level.Contributions{}
		return
	}
	for i := range l.Parts {
		l.Parts[i] = of.Parts[i] * s.PerLevel
	}
	c.inVessel.spread(&l.Parts, s.PerVessel, s.PerVesselGas)
	c.inChamber.spread(&l.Parts, s.PerChamber, s.PerChamberGas)
}
