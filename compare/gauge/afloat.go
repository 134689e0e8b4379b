package gauge

import (
	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// afloat is how the float swims in the liquid of the chamber, whatever its
// level.
type afloat struct {
	warm      buoyancy.Warm
	immersion quantity.Length
	swims     bool
	per       buoyancy.Sensitivity
	height    quantity.Length
	reserve   float64
}

// launch lets the float swim in the densities of the chamber.
func (m *Model) launch(c *conditions) {
	if m.float == nil {
		return
	}
	lower, upper := quantity.Density(c.inChamber.liquid), quantity.Density(c.inChamber.gas)
	f := &c.float
	f.warm = m.warm(c.chamber)
	f.height = f.warm.Height()
	f.reserve = m.reserve(f.warm, lower, upper)
	if f.immersion, f.swims = f.warm.Swims(lower, upper); f.swims {
		f.per = f.warm.Sensitivity(f.immersion, lower, upper)
	}
}

// reserve is how far the float is from sinking: lift over weight, or for
// interface service the whole volume over that below the interface. At 1 it
// sinks. A float that rises in the lighter liquid has no such number, 0.
func (m *Model) reserve(float buoyancy.Warm, lower, upper quantity.Density) float64 {
	if m.upper == nil {
		return float.Reserve(lower).Ratio
	}
	if share := float.Share(lower, upper); share > 0 {
		return 1 / share
	}
	return 0
}

// floatLevel turns the follower's indication into the surface in the chamber:
// indicated = (surface − immersion) + immersion(BuiltFor) + Offset.
func (m *Model) floatLevel(in *Snapshot, c *conditions, filled bool, out *Measurement) {
	l := &out.Float
	if m.float == nil {
		l.Reason = quantity.NotRead
		return
	}
	if !usable(&in.Float, l) {
		return
	}
	out.Magnet = quantity.Length(in.Float.Value) - m.sheet.Float.Offset
	out.MagnetOK = true
	if !filled {
		l.Reason = quantity.ConversionFailed
		return
	}
	m.swim(out.Magnet, m.builtImmersion, c, l)
	if l.OK() {
		l.Parts[level.Follower] = m.u.follower
		l.Parts[level.InputElectronics] = m.u.input
		l.Parts[level.Skew] = c.skew(in, &in.Float)
	}
}

// swim corrects a float's indication for the live density. It serves the
// gauge's own float and a second follower on it.
func (m *Model) swim(indicated, built quantity.Length, c *conditions, l *level.Level) {
	f := &c.float
	if !f.swims {
		l.Reason = quantity.ConversionFailed
		return
	}
	if !m.stand(indicated-built+f.immersion, l) {
		return
	}
	if m.rests(indicated-built, f.height) {
		l.Bound, l.Value, l.Reason = level.None, 0, quantity.OutOfRange
		return
	}
	l.Basis = level.ByBuoyancy
	c.inChamber.spread(&l.Parts, f.per.PerLower, f.per.PerUpper)
	l.Parts[level.FloatMass] = f.per.PerMass * m.u.floatMass
	l.Parts[level.TapElevation] = m.u.tap
}

// rests reports whether a float with its lowest point there sits on the bottom
// of the chamber or hangs at its top, where it says nothing of a level between
// the taps. A free length of zero is one the data sheet does not give.
func (m *Model) rests(bottom, height quantity.Length) bool {
	const touch = quantity.Millimetre
	c := &m.sheet.Chamber
	return c.BelowLowerTap > 0 && bottom < touch-c.BelowLowerTap ||
		c.AboveUpperTap > 0 && bottom+height > c.CentreToCentre+c.AboveUpperTap-touch
}
