package gauge

import (
	"fmt"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/dpcell"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// explainTransmitter books the steps of a transmitter up to the chamber level.
func (m *Model) explainTransmitter(e *Explanation, t *transmitter, r quantity.Reading, c *conditions, l *level.Level, filled bool) error {
	if t == nil {
		return fmt.Errorf("gauge %q has no %s", m.sheet.Tag, e.Instrument)
	}
	e.Tag, e.Principle = t.spec.Tag, string(t.spec.Principle)
	if !filled || !sound(&r) {
		return nil
	}
	col := &c.inChamber
	if t.onVessel {
		col = &c.inVessel
		m.explainInVessel(e, col)
	}
	h := m.explainPrinciple(e, t, quantity.Length(r.Value), c, col, l)
	if t.onVessel {
		m.explainCarry(e, c, h, "h", l)
	}
	return nil
}

// explainPrinciple books the steps of one principle and returns the level in
// the column the transmitter looks at.
func (m *Model) explainPrinciple(e *Explanation, t *transmitter, raw quantity.Length, c *conditions, col *column, l *level.Level) quantity.Length {
	switch t.spec.Principle {
	case datasheet.Radar:
		return m.explainRadar(e, t, raw, c)
	case datasheet.Displacer:
		return m.explainDisplacer(e, t, raw, col)
	case datasheet.FloatFollower:
		if !t.onVessel && m.float != nil {
			m.explainFloat(e, raw, 0, t.set, c, l)
			return l.Value
		}
		e.length("x", "level as the device reports it", raw, "", e.Tag)
		return raw
	}
	return m.explainPressure(e, t, raw, col)
}

func (m *Model) explainRadar(e *Explanation, t *transmitter, raw quantity.Length, c *conditions) quantity.Length {
	p := c.pulseOf(t)
	k, corrected := p.correction, p.corrected
	reported := t.spec.ReferencePoint - raw
	e.length("x", "level as the device reports it", raw, "", e.Tag)
	e.length("R", "reference point above the lower tap", t.spec.ReferencePoint, "", "data sheet")
	e.length("D0", "distance the device reports", reported, "R − x", "geometry of the data sheet")
	if corrected {
		source := "Clausius-Mossotti, gas of the data sheet"
		if m.steam {
			source = "IAPWS R8-97"
		}
		e.add("ε", "relative permittivity of the gas", c.permittivity, "1", "", source)
		e.add("ε0", "the device was told", max(1, t.spec.ConfiguredEps), "1", "", "data sheet")
		e.add("", "distance reads long by", 100*k.Error(), "%", "√(ε/ε0) − 1", "package radar eq. (1)")
	} else {
		e.add("", "the device corrects itself, reads long by", 0, "%", "", "reference reflector, or interface service")
	}
	d := k.True(reported)
	e.length("D", "distance to the surface", d, "D0 √(ε0/ε)", "package radar eq. (1)")
	e.length("h", "surface above the lower tap", t.spec.ReferencePoint-d, "R − D", "geometry of the data sheet")
	return t.spec.ReferencePoint - d
}

func (m *Model) explainPressure(e *Explanation, t *transmitter, raw quantity.Length, col *column) quantity.Length {
	cell := m.cell(t, col, 0)
	fluids := dpcell.Column{Liquid: quantity.Density(col.liquid), Gas: quantity.Density(col.gas)}
	dp := quantity.PressureDifference(raw)
	if t.spec.Compensated {
		e.length("x", "level as the device reports it", raw, "", e.Tag)
		e.density("ρs", "the device is calibrated for", float64(t.spec.CalibratedFor), "", "data sheet")
		set := m.cellAsSet(t, t.spec.CalibratedFor)
		dp = set.Difference(raw, dpcell.Column{Liquid: t.spec.CalibratedFor})
	}
	e.add("dP", "differential pressure", float64(dp)/1e3, "kPa", "", e.Tag)
	e.add("g", "gravity of the place", cell.Gravity, "m/s2", "", "data sheet, or standard gravity")
	e.length("H", "distance between the taps", cell.Span, "", "data sheet")
	e.length("zT", "cell above the lower tap", cell.Elevation, "", "data sheet")
	e.density("ρh", "line to the lower tap", float64(cell.Impulse), "", "data sheet")
	e.density("ρr", "line to the upper tap", float64(cell.Reference), "", "data sheet, or the gas")
	equation := "[dP/g − ρV H + ρh zT + ρr (H − zT)] / (ρL − ρV)"
	if cell.Swapped {
		equation = "[−dP/g − ρV H + ρh zT + ρr (H − zT)] / (ρL − ρV)"
	}
	h, _ := cell.Solve(dp, fluids)
	e.length("h", "level above the lower tap", h, equation, "package dpcell eq. (1)")
	return h
}

func (m *Model) explainDisplacer(e *Explanation, t *transmitter, raw quantity.Length, col *column) quantity.Length {
	liquid, gas := quantity.Density(col.liquid), quantity.Density(col.gas)
	var x quantity.Length
	e.length("L", "length of the displacer", t.displacer.Length, "", "data sheet")
	e.length("zB", "its lower end above the lower tap", t.spec.DisplacerBottom, "", "data sheet")
	if t.spec.CalibratedFor > 0 {
		e.length("x0", "depth the device reports", raw-t.spec.DisplacerBottom, "", e.Tag)
		e.density("ρs", "the device is calibrated for", float64(t.spec.CalibratedFor), "", "data sheet")
		x = t.displacer.Corrected(raw-t.spec.DisplacerBottom, t.spec.CalibratedFor, liquid, gas)
		e.length("d", "depth on the displacer", x, "(ρs x0 − ρV L) / (ρL − ρV)", "package displacer eq. (2)")
	} else {
		e.add("F", "apparent weight", float64(raw), "N", "", e.Tag)
		e.add("g", "gravity of the place", t.displacer.Gravity, "m/s2", "", "data sheet, or standard gravity")
		x = t.displacer.Solve(float64(raw), liquid, gas)
		e.length("d", "depth on the displacer", x, "(m − F/g − ρV a L) / ((ρL − ρV) a)", "package displacer eq. (1)")
	}
	e.length("h", "level above the lower tap", t.spec.DisplacerBottom+x, "zB + d", "geometry of the data sheet")
	return t.spec.DisplacerBottom + x
}
