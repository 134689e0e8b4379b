package fit

import (
	"fmt"

	"bridlewatch/compare/chamber"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/pipe"
	"bridlewatch/compare/quantity"
)

// mechanics checks what must fit into what, and pressures for plausibility.
func (c *check) mechanics() {
	c.clearance()
	c.growth()
	c.chamberWall()
	c.floatShell()
	c.blindZones()
}

func (c *check) clearance() {
	bore, d := c.sheet.Chamber.InnerDiameter, c.sheet.Float.Diameter
	if bore == 0 || d == 0 {
		return
	}
	c.report.Clearance = (bore - d).Millimetres() / 2
	if c.report.Clearance > 0.15*bore.Millimetres() {
		c.report.advise(Note, "float", fmt.Sprintf("The float has %.1f mm of play on each side; a follower outside the pipe reads a magnet that far away less surely.", c.report.Clearance), Calculated)
	}
}

// growth is the thermal growth of the distance between the taps; a scale fixed
// cold, or one that stays cold, is off by it at the upper end.
func (c *check) growth() {
	hot := c.sheet.OperatingTemp
	if hot == 0 {
		hot = c.sheet.MaxTemperature
	}
	perK, _, err := chamber.Expansion(c.sheet.Chamber.Material)
	if err != nil || hot == 0 {
		return
	}
	g := chamber.Growth(c.sheet.Chamber.CentreToCentre, perK, quantity.FromCelsius(20), hot)
	c.report.Growth = g.Millimetres()
	if g > quantity.Millimetre {
		c.report.advise(Note, "thermal growth", fmt.Sprintf("The chamber grows by %.1f mm between the taps from 20 °C to %.0f °C; a scale that stays cold is off by that at the upper tap.", g.Millimetres(), hot.Celsius()), Calculated)
	}
}

func (c *check) chamberWall() {
	ch := &c.sheet.Chamber
	if ch.OuterDiameter == 0 || ch.InnerDiameter == 0 || c.sheet.MaxPressure == 0 {
		return
	}
	stress, as, err := pipe.Stress(ch.Material, c.sheet.MaxTemperature)
	if err != nil {
		c.report.advise(Note, "chamber wall", "The chamber's wall was not checked: "+err.Error()+".", Calculated)
		return
	}
	bound, err := pipe.Wall{Outer: ch.OuterDiameter, Stress: stress}.Bound((ch.OuterDiameter - ch.InnerDiameter) / 2)
	if err != nil {
		c.report.advise(Note, "chamber wall", capital(err.Error())+".", Calculated)
		return
	}
	demand := c.sheet.MaxPressure - quantity.StandardAtmosphere
	b := Bound{What: "chamber pipe, internal", Bar: float64(bound) / 1e5, By: "ASME B31.3 304.1.2 with the stress of " + as + ", wall less 12.5 %, no allowance",
		Demand: demand.Bar(), Caution: pipe.Caution, Exceeded: float64(demand) > float64(bound)}
	c.report.Bounds = append(c.report.Bounds, b)
	if b.Exceeded {
		c.report.advise(Problem, "chamber wall", fmt.Sprintf("The maximum pressure of %.1f bar(g) is more than the plain pipe wall makes plausible, %.1f bar(g). %s", b.Demand, b.Bar, pipe.Caution), Calculated)
	}
}

func (c *check) floatShell() {
	f := &c.sheet.Float
	if f.Mass == 0 {
		return
	}
	demand := (c.sheet.MaxPressure - quantity.StandardAtmosphere).Bar()
	b := Bound{What: "float shell, external", Demand: demand, Caution: pipe.Caution}
	if f.MaxPressure > quantity.StandardAtmosphere {
		b.Stated = (f.MaxPressure - quantity.StandardAtmosphere).Bar()
	}
	switch material, err := pipe.MaterialOf(f.Material); {
	case f.Wall == 0:
		c.report.advise(Note, "float pressure", "The thickness of the float's shell is not given: its external pressure was not checked. Compare the maker's rating with the maximum pressure.", FromSheet)
		return
	case err != nil:
		c.report.advise(Note, "float pressure", capital(err.Error())+".", FromSheet)
		return
	default:
		shell := pipe.Shell{Radius: (f.Diameter - f.Wall) / 2, Wall: f.Wall, Length: f.Length, E: material.E, Nu: material.Nu, Yield: material.Yield}
		collapse, err := shell.Collapse()
		if err != nil {
			c.report.advise(Note, "float pressure", capital(err.Error())+".", Calculated)
			return
		}
		b.Bar, b.By = float64(collapse.Pressure)/1e5, collapse.By
	}
	b.Exceeded = b.Demand > b.Bar
	c.report.Bounds = append(c.report.Bounds, b)
	switch {
	case b.Exceeded && b.Stated == 0:
		c.report.advise(Problem, "float pressure", fmt.Sprintf("The maximum pressure of %.1f bar is more than an ideal shell of this wall stands, %.1f bar (%s), unless the float is filled or ribbed. The maker's rating decides; none is given.", b.Demand, b.Bar, b.By), Calculated)
	case b.Exceeded:
		c.report.advise(Warning, "float pressure", fmt.Sprintf("The maker rates the float for %.1f bar; an ideal empty shell of this wall would stand %.1f bar (%s). Ask how it is filled or ribbed.", b.Stated, b.Bar, b.By), Calculated)
	case b.Stated == 0:
		c.report.advise(Warning, "float pressure", "No pressure rating of the float by its maker is given; ask for it. "+pipe.Caution, FromSheet)
	}
}

// blindZones compares a radar's dead zones with the measured range.
func (c *check) blindZones() {
	span := c.sheet.Chamber.CentreToCentre
	for _, t := range []*datasheet.Transmitter{c.sheet.Transmitter, c.sheet.Second} {
		if t == nil || t.Principle != datasheet.Radar {
			continue
		}
		if top := t.ReferencePoint - t.BlindTop; top < span {
			c.report.advise(Warning, "radar", fmt.Sprintf("%s is blind above %.0f mm; the upper %.0f mm of the range cannot be compared.", t.Tag, top.Millimetres(), (span-top).Millimetres()), FromSheet)
		}
		if bottom := t.BlindBottom - c.sheet.Chamber.BelowLowerTap; bottom > 0 {
			c.report.advise(Warning, "radar", fmt.Sprintf("%s is blind below %.0f mm; the lower end of the range cannot be compared.", t.Tag, bottom.Millimetres()), FromSheet)
		}
	}
}
