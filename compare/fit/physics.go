package fit

import (
	"fmt"
	"math"

	"bridlewatch/compare/chamber"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/vessel"
)

// lowReserve is the lift over weight below which a float has too little left.
// Common practice, no source.
const lowReserve = 1.2

func (c *check) physics() {
	chamber, _, err := c.model.Columns(&gauge.Truth{})
	if err != nil {
		c.report.advise(Problem, "fluid", capital(err.Error())+".", Calculated)
		return
	}
	c.above = chamber.Gas
	at, err := c.model.Conditions(&gauge.Truth{})
	if err != nil {
		return // refused above already
	}
	var ok bool
	if c.float, ok = c.model.Warm(at.ChamberTemperature); ok {
		c.densities(chamber.Liquid)
	}
	c.gaps()
	c.cold()
	c.inference()
}

// densities puts the float into the range in service.
func (c *check) densities(operating quantity.Density) {
	low, high := c.sheet.ServiceRange()
	rows := []struct {
		what string
		rho  quantity.Density
	}{
		{"lowest in service", low}, {"built for", c.sheet.Float.BuiltFor}, {"at the operating state", operating}, {"highest in service", high},
	}
	lowest, highest := math.Inf(1), math.Inf(-1)
	for _, row := range rows {
		at := c.at(row.what, row.rho)
		c.report.Range = append(c.report.Range, at)
		if at.Swims && row.rho >= low && row.rho <= high {
			lowest, highest = math.Min(lowest, at.Shift), math.Max(highest, at.Shift)
		}
	}
	if highest >= lowest {
		c.report.Movement = highest - lowest
	}
	c.judgeFloat()
	if operating < low || operating > high {
		c.beyondService(operating)
	}
}

// rounded is how far a specific gravity of a data sheet that states no range
// may be from the fluid's without a warning. Common practice, no source.
const rounded = 0.02

// beyondService says that model of the liquid and data sheet contradict each
// other. A liquid no float of this weight swims in is a mistake in one of them.
func (c *check) beyondService(operating quantity.Density) {
	weight, stated, more := Warning, fmt.Sprintf("outside the %.3f to %.3f", c.sheet.SGMin, c.sheet.SGMax), ""
	if c.sheet.SGMin == c.sheet.SGMax {
		stated = fmt.Sprintf("not the %.3f", c.sheet.SGMin)
		if math.Abs(gravity(operating)-c.sheet.SGMin) <= rounded {
			weight = Note
		}
	}
	if c.sheet.Fluid.Upper == nil && operating <= c.float.SinkingDensity() {
		weight, more = Problem, " The float would sink in it: one of the two is wrong; look at the unit of the density first."
	}
	c.report.advise(weight, FluidTopic,
		fmt.Sprintf("At the operating state the liquid in the chamber has a specific gravity of %.3f, %s of the data sheet.%s", gravity(operating), stated, more), Calculated)
}

func gravity(rho quantity.Density) float64 { return float64(rho / datasheet.WaterReferenceDensity) }

// at is the float at one density.
func (c *check) at(what string, rho quantity.Density) AtDensity {
	f := c.float
	reserve := f.Reserve(rho)
	row := AtDensity{What: what, SG: gravity(rho), Density: float64(rho), Reserve: reserve.Ratio, Spare: 1e3 * float64(reserve.Mass), Uplift: reserve.Uplift}
	z, err := f.Immersion(rho, c.above)
	if err != nil {
		row.Why = err.Error()
		return row
	}
	if c.sheet.Fluid.Upper != nil {
		row.Reserve = 1 / f.Share(rho, c.above)
	}
	s := f.Sensitivity(z, rho, c.above)
	row.Swims = true
	row.Immersion, row.Above = z.Millimetres(), (f.Height() - z).Millimetres()
	row.Shift = (c.model.BuiltImmersion() - z).Millimetres()
	row.PerTenG = 10 * s.PerMass
	row.DeadBand = f.Friction(0.1, rho, c.above).Millimetres()
	row.PerSG = 1e3 * math.Abs(s.PerLower) * 0.01 * float64(datasheet.WaterReferenceDensity)
	return row
}

// lowShare is how much of a float between two liquids must at least be in
// either. Common practice, no source.
const lowShare = 0.1

// judgeBetween judges a float that swims at the interface of two liquids.
func (c *check) judgeBetween() {
	low, high := c.sheet.ServiceRange()
	most, least := c.float.Share(low, c.above), c.float.Share(high, c.above)
	weight, basis := Note, "is"
	switch {
	case most >= 1 || least <= 0:
		weight, basis = Problem, "would be, so that it leaves the interface,"
	case most > 1-lowShare || least < lowShare:
		weight, basis = Warning, "is only just held at the interface,"
	}
	c.report.advise(weight, "float", fmt.Sprintf("Over the range in service and under a lighter liquid of %.0f kg/m³ the float of %.0f kg/m³ %s %.0f to %.0f %% in the heavier liquid.",
		float64(c.above), float64(c.float.SinkingDensity()), basis, 100*least, 100*most), Calculated)
}

func (c *check) judgeFloat() {
	if c.sheet.Fluid.Upper != nil {
		c.judgeBetween()
		return
	}
	lightest := c.report.Range[0]
	sinks := gravity(c.float.SinkingDensity())
	switch {
	case !lightest.Swims:
		c.report.advise(Problem, "float", fmt.Sprintf("At the lowest specific gravity in service, %.3f: %s.", lightest.SG, lightest.Why), Calculated)
	case lightest.Reserve < lowReserve:
		c.report.advise(Warning, "float", fmt.Sprintf("At the lowest specific gravity in service, %.3f, the liquid lifts the float with only %.2f times its weight; it sinks at %.3f. A deposit of %.0f g is enough.", lightest.SG, lightest.Reserve, sinks, lightest.Spare), Calculated)
	default:
		c.report.advise(Note, "float", fmt.Sprintf("Covered by the lightest liquid in service the float is lifted with %.2f times its weight; it sinks at a specific gravity of %.3f.", lightest.Reserve, sinks), Calculated)
	}
	if c.report.Movement > 0 {
		c.report.advise(Note, "density", fmt.Sprintf("Over the range in service an uncorrected reading moves by %.1f mm; %.1f mm per 0.01 of specific gravity at the lower end.", c.report.Movement, lightest.PerSG), Calculated)
	}
}

// gaps finds the smallest gap that means something low, middle and high.
func (c *check) gaps() {
	for _, share := range []float64{0.1, 0.5, 0.9} {
		in, err := c.model.Standing(share)
		if err != nil {
			continue // the level stands beyond what this service allows
		}
		b, err := c.model.Budget(&in)
		if err != nil {
			continue
		}
		for _, g := range b.Gaps {
			row := GapAt{Pair: g.Pair, Level: 1e3 * share * float64(c.sheet.Chamber.CentreToCentre), Allowed: g.Allowed, U: g.U, Dominates: g.Ranked()[0].Name}
			c.report.Gaps = append(c.report.Gaps, row)
			if g.Pair == gauge.FloatTransmitter.String() && (c.report.Smallest == 0 || g.Allowed < c.report.Smallest) {
				c.report.Smallest = g.Allowed
			}
		}
	}
	if c.report.Smallest > 0 && c.report.Movement > c.report.Smallest {
		c.judgeMovement()
	}
}

// judgeMovement says whether the density is known live where it has to be.
func (c *check) judgeMovement() {
	moves := fmt.Sprintf("The uncorrected reading moves farther over the range in service (%.1f mm) than the smallest gap that means something (%.1f mm): the density must be known live", c.report.Movement, c.report.Smallest)
	if by := c.live(); by != "" {
		c.report.advise(Note, "density", moves+"; it is, by "+by+".", Calculated)
		return
	}
	c.report.advise(Warning, "density", moves+", by temperature or a densitometer, and nothing measures either.", Calculated)
}

// live names the instrument the density follows, "" when there is none.
func (c *check) live() string {
	s := c.sheet
	boils := s.Fluid.Model == datasheet.Water && s.Fluid.Vapour.Model == datasheet.Steam
	for _, i := range []*datasheet.Instrument{s.Densitometer, s.ChamberTemperature, s.Temperature} {
		if i != nil && (i == s.Densitometer) == (s.Fluid.Model == datasheet.Measured) {
			return i.Tag
		}
	}
	if boils && s.Pressure != nil {
		return s.Pressure.Tag + ", boiling water"
	}
	return ""
}

// assumedCooling is taken for a hot service whose data sheet does not say how
// much colder the chamber is. Common practice, no source.
const (
	assumedCooling quantity.Temperature = 30 // K
	hotService     float64              = 80 // °C
)

// cold shows what a chamber colder or warmer than its vessel does.
func (c *check) cold() {
	truth := gauge.Truth{}
	at, err := c.model.Conditions(&truth)
	if err != nil {
		return
	}
	if c.sheet.Chamber.Cooling == nil && at.Temperature.Celsius() > hotService {
		truth.ChamberTemperature = at.Temperature - assumedCooling
		c.report.advise(Note, "chamber temperature", fmt.Sprintf("The data sheet does not say how much colder than the vessel the chamber is; %.0f K are taken for what follows.", float64(assumedCooling)), FromSheet)
	}
	balance, err := c.model.Balance(&truth)
	if err != nil || math.Abs(balance.Factor()-1) < 1e-4 {
		return
	}
	span := c.sheet.Chamber.CentreToCentre
	for _, share := range []quantity.Length{0.25, 0.5, 0.75, 1} {
		c.report.Cold = append(c.report.Cold, Cold{(share * span).Millimetres(), balance.ChamberUnbounded(share * span).Millimetres()})
	}
	worst := c.report.Cold[len(c.report.Cold)-1]
	off := worst.Chamber - worst.Vessel
	w := Note
	if math.Abs(off) > 0.01*span.Millimetres() {
		w = Warning
	}
	c.report.advise(w, "chamber temperature", fmt.Sprintf("The chamber shows %.1f mm when the vessel stands at the upper tap, %+.1f mm off; the error vanishes at the lower tap and grows with height above it. Float and transmitter on the chamber agree all the while.", worst.Chamber, off), Calculated)
	c.profile(&truth, &balance)
}

// profile compares the chamber taken as equally warm with one that is as warm
// as the vessel at the upper tap and as much colder at the lower one.
func (c *check) profile(truth *gauge.Truth, balance *vessel.Balance) {
	at, err := c.model.Conditions(truth)
	if err != nil || at.Temperature <= at.ChamberTemperature {
		return
	}
	span := c.sheet.Chamber.CentreToCentre
	bottom := 2*at.ChamberTemperature - at.Temperature
	mean, err := chamber.MeanDensity(c.model.Liquid(), at.Pressure, span, chamber.Linear(bottom, at.Temperature, span), 4)
	if err != nil {
		return
	}
	off := span * quantity.Length((mean-balance.Chamber)/(balance.Vessel-balance.VesselGas))
	if math.Abs(float64(off)) < 0.5e-3 {
		return
	}
	c.report.advise(Note, "chamber temperature", fmt.Sprintf("If the chamber is as warm as the vessel at the upper tap and %.0f K colder at the lower one, its mean density differs from that at its mean temperature by %+.1f kg/m³, and the vessel level found from a full chamber by %+.1f mm.",
		float64(at.Temperature-bottom), float64(mean-balance.Chamber), off.Millimetres()), Calculated)
}

// inference says where the gap of float and transmitter would tell the density.
func (c *check) inference() {
	if c.sheet.Fluid.Model == datasheet.Water || c.sheet.Float.Mass == 0 || c.sheet.Transmitter == nil {
		return
	}
	var from, to float64
	const steps = 50
	found := 0
	for i := 1; i < steps; i++ {
		share := float64(i) / steps
		if !c.identifiable(share) {
			continue
		}
		level := 1e3 * share * float64(c.sheet.Chamber.CentreToCentre)
		if found == 0 {
			from = level
		}
		to = level
		found++
	}
	if found == 0 {
		c.report.advise(Note, "density", "The gap between float and transmitter says nothing about the density of the liquid: both depend on it too little, or alike.", Calculated)
		return
	}
	span := c.sheet.Chamber.CentreToCentre.Millimetres()
	gaps := ""
	if float64(found-1) < (to-from)/span*steps-0.5 {
		gaps = ", though not at every level between"
	}
	c.report.advise(Note, "density", fmt.Sprintf("With both instruments sound, their gap tells the density of the liquid better than the range in service does, between about %.0f and %.0f mm%s.", from, to, gaps), Calculated)
}

// identifiable reports whether the gap tells the density at a share of the
// range.
func (c *check) identifiable(share float64) bool {
	in, err := c.model.Standing(share)
	if err != nil {
		return false
	}
	inf, err := c.model.InferDensity(&in, gauge.FloatTransmitter)
	return err == nil && inf.Identifiable
}
