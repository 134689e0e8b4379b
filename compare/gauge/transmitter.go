package gauge

import (
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/displacer"
	"bridlewatch/compare/dpcell"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/radar"
)

// transmitter is a datasheet.Transmitter made ready for arithmetic.
type transmitter struct {
	spec     datasheet.Transmitter
	second   bool
	onVessel bool
	onSame   bool // in the gauge's own chamber, on its scale
	byTap    bool // what it measures counts from the gauge's lower tap and scale

	device level.Input // where its own accuracy is booked
	signal level.Input // where its input's accuracy is booked
	leg    level.Input // where its reference leg is booked
	uOwn   float64     // m, device alone, mounting of its scale included
	uInput float64     // m

	set       quantity.Length // float follower: immersion it was built for
	uLeg      float64         // kg/m3, of the reference leg
	uPressure float64         // Pa, of a dp cell
	uVolume   float64         // relative, of a displacer
	uMass     float64         // kg, of a displacer
	edge      quantity.Length // of a displacer: rounding at its ends
	displacer displacer.Displacer
}

// solve finds the level in the column the transmitter looks at.
func (m *Model) solve(t *transmitter, raw quantity.Length, c *conditions, l *level.Level) {
	col := &c.inChamber
	if t.onVessel {
		col = &c.inVessel
	}
	switch t.spec.Principle {
	case datasheet.Radar:
		m.byRadar(t, raw, c, l)
	case datasheet.DPWet, datasheet.DPDry, datasheet.DPSeals:
		m.byPressure(t, raw, col, l)
	case datasheet.Displacer:
		m.byDisplacer(t, raw, col, l)
	case datasheet.FloatFollower:
		m.byFollower(t, raw, c, l)
	default:
		l.Reason = quantity.ConversionFailed
		return
	}
	if !l.OK() {
		l.Parts = level.Contributions{}
		return
	}
	if own := &l.Parts[t.device]; *own == 0 {
		*own = t.uOwn
	} else { // beside what physics makes of its accuracy
		*own = math.Hypot(*own, t.uOwn)
	}
	if t.byTap {
		l.Parts[level.TapElevation] = m.u.tap
	}
}

func isDP(p datasheet.Principle) bool {
	return p == datasheet.DPWet || p == datasheet.DPDry || p == datasheet.DPSeals
}

// pulse is how a radar's pulse travels in the gas.
type pulse struct {
	correction radar.Correction
	corrected  bool // by us
}

// travel is what the gas does to the radar's distances. A device with a
// reference reflector, and one that looks through the lighter liquid of an
// interface, corrects itself: its report is taken as it is.
func (m *Model) travel(t *transmitter, permittivity float64) pulse {
	if t.spec.ReferenceReflector > 0 || m.upper != nil {
		return pulse{correction: 1}
	}
	k, err := radar.NewCorrection(max(1, permittivity), max(1, t.spec.ConfiguredEps))
	return pulse{k, err == nil}
}

// pulseOf is the pulse of a transmitter.
func (c *conditions) pulseOf(t *transmitter) *pulse {
	if t.second {
		return &c.pulse[1]
	}
	return &c.pulse[0]
}

func (m *Model) byRadar(t *transmitter, raw quantity.Length, c *conditions, l *level.Level) {
	p := c.pulseOf(t)
	distance := p.correction.True(t.spec.ReferencePoint - raw)
	if m.blind(t, distance) {
		l.Reason = quantity.BlindZone
		return
	}
	if !m.stand(t.spec.ReferencePoint-distance, l) {
		return
	}
	l.Basis = level.AsReported
	if p.corrected {
		l.Basis = level.ByTimeFlight
		l.Parts[level.GasPermittivity] = -radar.PerPermittivity(distance, c.permittivity) * (c.permittivity - 1) * c.uGas
	}
}

// blind reports whether a surface at the distance lies in a dead zone of the
// probe, which ends at the bottom of the chamber.
func (m *Model) blind(t *transmitter, distance quantity.Length) bool {
	end := t.spec.ReferencePoint + m.sheet.Chamber.BelowLowerTap
	return distance < t.spec.BlindTop || (t.spec.BlindBottom > 0 && distance > end-t.spec.BlindBottom)
}

// cell is the dp cell with its lines as they are now. lost is the part of the
// reference leg's liquid that is missing.
func (m *Model) cell(t *transmitter, col *column, lost float64) dpcell.Cell {
	cell := m.cellAsSet(t, quantity.Density(col.liquid))
	cell.Gravity = m.sheet.Gravity
	if t.spec.Principle == datasheet.DPDry {
		cell.Reference = quantity.Density(col.gas)
	} else if lost > 0 {
		cell.Reference = quantity.Density(float64(cell.Reference)*(1-lost) + col.gas*lost)
	}
	return cell
}

// cellAsSet is the cell as its device was told: lines at their data sheet
// density, no gas, standard gravity.
func (m *Model) cellAsSet(t *transmitter, process quantity.Density) dpcell.Cell {
	cell := dpcell.Cell{
		Span:      m.sheet.Chamber.CentreToCentre,
		Elevation: t.spec.Elevation,
		Impulse:   t.spec.LegDensity,
		Reference: t.spec.LegDensity,
		Swapped:   t.spec.Swapped,
	}
	if t.spec.Principle == datasheet.DPDry {
		cell.Reference = 0
		if cell.Impulse == 0 {
			cell.Impulse = process
		}
	}
	return cell
}

func (m *Model) byPressure(t *transmitter, raw quantity.Length, col *column, l *level.Level) {
	dp := quantity.PressureDifference(raw)
	if t.spec.Compensated {
		set := m.cellAsSet(t, t.spec.CalibratedFor)
		dp = set.Difference(raw, dpcell.Column{Liquid: t.spec.CalibratedFor})
	}
	cell := m.cell(t, col, 0)
	fluids := dpcell.Column{Liquid: quantity.Density(col.liquid), Gas: quantity.Density(col.gas)}
	h, ok := cell.Solve(dp, fluids)
	if !ok {
		l.Reason = quantity.ConversionFailed
		return
	}
	if !m.stand(h, l) {
		return
	}
	l.Basis = level.ByDP
	s := cell.Sensitivity(h, fluids)
	perLiquid, perGas := s.PerLiquid, s.PerGas
	if t.spec.Principle == datasheet.DPDry {
		perGas += s.PerReference
		if t.spec.LegDensity == 0 {
			perLiquid += s.PerImpulse
		}
	} else {
		l.Parts[t.leg] += (s.PerReference + s.PerImpulse) * t.uLeg
	}
	col.spread(&l.Parts, perLiquid, perGas)
	l.Parts[t.device] = math.Hypot(l.Parts[t.device], s.PerPressure*t.uPressure)
}

func (m *Model) byDisplacer(t *transmitter, raw quantity.Length, col *column, l *level.Level) {
	liquid, gas := quantity.Density(col.liquid), quantity.Density(col.gas)
	var x quantity.Length
	if t.spec.CalibratedFor > 0 {
		x = t.displacer.Corrected(raw-t.spec.DisplacerBottom, t.spec.CalibratedFor, liquid, gas)
	} else {
		x = t.displacer.Solve(float64(raw), liquid, gas)
	}
	if !m.covers(t, x, l) {
		return
	}
	l.Basis = level.ByDisplacer
	s := t.displacer.Sensitivity(x, liquid, gas)
	col.spread(&l.Parts, s.PerLiquid, s.PerUpper)
	own := math.Hypot(s.PerVolume*t.uVolume, s.PerMass*t.uMass)
	if t.device == level.TransmitterDevice {
		l.Parts[level.DisplacerDevice] = own
	} else {
		l.Parts[t.device] = own
	}
}

// covers puts the level on the displacer. Beyond its ends the weight says only
// that the surface is not on it, which is a tap only when the end reaches one.
func (m *Model) covers(t *transmitter, x quantity.Length, l *level.Level) bool {
	bottom, top := t.spec.DisplacerBottom, t.spec.DisplacerBottom+t.spec.DisplacerLength
	dry, covered := x <= t.edge, x >= t.spec.DisplacerLength-t.edge
	switch {
	case x != x:
		l.Reason = quantity.ConversionFailed
	case dry && bottom <= 0:
		bind(l, level.BelowLowerTap, m.sheet.Chamber.CentreToCentre)
	case covered && top >= m.sheet.Chamber.CentreToCentre:
		bind(l, level.AboveUpperTap, m.sheet.Chamber.CentreToCentre)
	case dry || covered:
		l.Reason = quantity.OutOfRange
	default:
		return m.stand(bottom+x, l)
	}
	return false
}

func (m *Model) byFollower(t *transmitter, raw quantity.Length, c *conditions, l *level.Level) {
	if t.onVessel || m.float == nil {
		if m.stand(raw, l) {
			l.Basis = level.AsReported
		}
		return
	}
	m.swim(raw, t.set, c, l)
	if l.OK() {
		l.Basis = level.ByFollower
		if !t.onSame {
			l.Parts[level.TapElevation] = 0
		}
	}
}
