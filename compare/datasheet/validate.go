package datasheet

import (
	"fmt"
	"math"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/pipe"
	"bridlewatch/compare/quantity"
)

// Problem is one thing that is wrong or cannot be, with where it stands. The
// path uses the words of the configuration: "float.mass",
// "points[1].elevation".
type Problem struct {
	Path    string
	Message string
}

func (p Problem) String() string { return p.Path + ": " + p.Message }

// Validate returns everything in the data sheet that is missing, impossible or
// contradicts something else in it, in the order of the sheet. It judges the
// sheet with its defaults filled in and changes nothing. Fluid models have
// their own checks in package fluid.
func (s *Sheet) Validate() []Problem {
	c := s.Clone()
	c.Normalise()
	v := &validation{sheet: &c}
	v.service()
	v.chamber()
	v.float()
	v.transmitter("transmitter", c.Transmitter)
	v.transmitter("second_transmitter", c.Second)
	v.points()
	v.limits()
	return v.problems
}

// validation collects problems.
type validation struct {
	sheet    *Sheet
	problems []Problem
}

func (v *validation) report(path, format string, args ...any) {
	v.problems = append(v.problems, Problem{path, fmt.Sprintf(format, args...)})
}

// between reports a value outside low to high. NaN is outside.
func (v *validation) between(path, what string, value, low, high float64, unit string) {
	if !(value >= low && value <= high) {
		if unit != "" {
			unit = " " + unit
		}
		v.report(path, "%s is %.6g%s; it must lie between %.6g and %.6g%s", what, value, unit, low, high, unit)
	}
}

// word reports a word that is not one of the known ones.
func word[T ~string](v *validation, path string, got T, known ...T) {
	for _, k := range known {
		if got == k {
			return
		}
	}
	v.report(path, "%q is not one of %q", got, known)
}

func (v *validation) service() {
	s := v.sheet
	if s.Tag == "" {
		v.report("tag", "a gauge needs a tag")
	}
	// 9.764 is the least and 9.834 the greatest on the ground (from memory).
	v.between("data_sheet.gravity", "gravity of the place", s.Gravity, 9.76, 9.84, "m/s2")
	v.between("data_sheet.specific_gravity", "design specific gravity", s.DesignSG, 0.2, 3, "")
	v.between("data_sheet.specific_gravity_range", "lowest specific gravity in service", s.SGMin, 0.1, s.DesignSG, "")
	v.between("data_sheet.specific_gravity_range", "highest specific gravity in service", s.SGMax, s.DesignSG, 4, "")
	v.between("data_sheet.operating_pressure", "operating pressure", s.OperatingPressure.Bar(), 0, limitOr(s.MaxPressure.Bar(), 1000), "bar absolute")
	boils := s.Fluid.Model == Water && s.Fluid.Vapour.Model == Steam
	switch {
	case s.OperatingPressure == 0 && s.Pressure == nil:
		v.report("data_sheet.operating_pressure", "nothing measures the pressure, so an operating pressure is needed")
	case s.OperatingTemp == 0 && s.Temperature == nil && !boils:
		v.report("data_sheet.operating_temperature", "nothing measures the temperature, so an operating temperature is needed")
	}
	if s.OperatingTemp != 0 {
		v.between("data_sheet.operating_temperature", "operating temperature", s.OperatingTemp.Celsius(), -200, limitOr(s.MaxTemperature.Celsius(), 600), "°C")
	}
}

// limitOr is a maximum where one is stated. An unstated temperature is 0 K.
func limitOr(stated, otherwise float64) float64 {
	if stated > 0 {
		return stated
	}
	return otherwise
}

func (v *validation) chamber() {
	c := &v.sheet.Chamber
	v.between("chamber.centre_to_centre", "distance between the taps", c.CentreToCentre.Millimetres(), 50, 30_000, "mm")
	v.between("chamber.below_lower_tap", "free length below the lower tap", c.BelowLowerTap.Millimetres(), 0, 5_000, "mm")
	v.between("chamber.above_upper_tap", "free length above the upper tap", c.AboveUpperTap.Millimetres(), 0, 5_000, "mm")
	word(v, "chamber.connection_style", c.ConnectionStyle, SideSide, SideBottom, TopBottom, TopSide)
	word(v, "chamber.insulation", c.Insulation, "bare", "insulated", "traced")
	if c.Cooling != nil {
		v.between("chamber.cooler_by", "temperature difference", float64(*c.Cooling), -200, 400, "K")
	}
	v.between("chamber.temperature_uncertainty", "standard uncertainty of the chamber temperature", float64(c.CoolingU), 0, 200, "K")
	if c.PipeSize != "" && c.InnerDiameter == 0 {
		if _, err := pipe.Lookup(c.PipeSize, c.Schedule); err != nil {
			v.report("chamber.pipe_size", "%v", err)
		}
	}
	if c.InnerDiameter != 0 && c.OuterDiameter != 0 && c.InnerDiameter >= c.OuterDiameter {
		v.report("chamber.inner_diameter", "bore of %.4g mm is not smaller than the outside diameter of %.4g mm", c.InnerDiameter.Millimetres(), c.OuterDiameter.Millimetres())
	}
}

func (v *validation) float() {
	s, f := v.sheet, &v.sheet.Float
	if f.Mass == 0 && f.Diameter == 0 && f.Length == 0 {
		return
	}
	word(v, "float.follower", f.Follower, ReedChain, Magnetostrictive, NoFollower)
	v.between("float.magnet_height", "height of the magnet above the bottom of the float", f.MagnetAbove.Millimetres(), 0, f.Length.Millimetres(), "mm")
	if f.Follower == ReedChain {
		v.between("float.pitch", "pitch of the reed chain", f.Pitch.Millimetres(), 1, 100, "mm")
	}
	if f.Wall != 0 {
		v.between("float.wall", "thickness of the shell", f.Wall.Millimetres(), 0.1, f.Diameter.Millimetres()/4, "mm")
	}
	if bore := s.Chamber.InnerDiameter; bore != 0 && f.Diameter > bore-2*quantity.Millimetre {
		v.report("float.diameter", "a float of %.4g mm does not run free in a bore of %.4g mm; it needs at least 2 mm", f.Diameter.Millimetres(), bore.Millimetres())
	}
	if f.MaxPressure != 0 && f.MaxPressure < s.MaxPressure {
		v.report("float.maximum_pressure", "the float is rated for %.4g bar absolute, the gauge for %.4g", f.MaxPressure.Bar(), s.MaxPressure.Bar())
	}
	head, err := buoyancy.ParseHead(string(f.EndShape))
	if err != nil {
		v.report("float.end_shape", "%v", err)
		return
	}
	b, err := buoyancy.New(f.Mass, f.Diameter, f.Length, head)
	if err != nil {
		v.report("float", "%v", err)
		return
	}
	v.swims(b)
}

// swims checks that the float floats over the range in service and has room to
// follow the level to both taps.
func (v *validation) swims(b *buoyancy.Float) {
	s := v.sheet
	lightest, heaviest := s.ServiceRange()
	if s.Float.BuiltFor <= b.SinkingDensity() {
		v.report("float.built_for", "built for %.4g kg/m3, the float sinks below %.4g kg/m3: compare mass, diameter and length with its data sheet", float64(s.Float.BuiltFor), float64(b.SinkingDensity()))
	}
	deepest, err := b.Immersion(lightest, 0)
	if err != nil {
		v.report("float.mass", "at the lowest specific gravity in service, %.4g: %v", s.SGMin, err)
		return
	}
	if s.Fluid.Upper != nil {
		return // how deep it swims depends on the lighter liquid: see package gauge
	}
	const room = 1e-6 // m, for rounding
	if s.Chamber.BelowLowerTap+room < deepest {
		v.report("chamber.below_lower_tap", "%.4g mm below the lower tap are too few: the float needs %.4g mm to follow the level down to it; below that it rests on the bottom and its gauge stands still",
			s.Chamber.BelowLowerTap.Millimetres(), deepest.Millimetres())
	}
	if highest, err := b.Immersion(heaviest, 0); err == nil && s.Chamber.AboveUpperTap+room < b.Height()-highest {
		v.report("chamber.above_upper_tap", "%.4g mm above the upper tap are too few: %.4g mm of the float stand above the surface there",
			s.Chamber.AboveUpperTap.Millimetres(), (b.Height() - highest).Millimetres())
	}
}

func (v *validation) transmitter(path string, t *Transmitter) {
	if t == nil {
		return
	}
	word(v, path+".chamber", t.Chamber, "same", "secondary", "vessel")
	if t.Tag == "" {
		v.report(path+".tag", "a transmitter needs a tag")
	}
	switch t.Principle {
	case Radar:
		v.radar(path, t)
	case DPWet, DPDry, DPSeals:
		v.dp(path, t)
	case Displacer:
		v.displacer(path, t)
	default:
		word(v, path+".principle", t.Principle, Radar, DPWet, DPDry, DPSeals, Displacer, FloatFollower)
	}
	v.between(path+".uncertainty", "standard uncertainty of the device", t.U.Millimetres(), 0, 1000, "mm")
}

func (v *validation) radar(path string, t *Transmitter) {
	span := v.sheet.Chamber.CentreToCentre
	if t.ReferencePoint <= span {
		v.report(path+".reference_point", "a reference point %.5g mm above the lower tap is not above the upper tap at %.5g mm; distances are measured down from it",
			t.ReferencePoint.Millimetres(), span.Millimetres())
	}
	if t.ConfiguredEps != 0 {
		v.between(path+".configured_permittivity", "gas permittivity told to the device", t.ConfiguredEps, 1, 3, "")
	}
	probe := t.ReferencePoint + v.sheet.Chamber.BelowLowerTap
	if t.BlindTop < 0 || t.BlindBottom < 0 || t.BlindTop+t.BlindBottom >= probe {
		v.report(path+".blind_top", "dead zones of %.4g and %.4g mm leave nothing of a probe of %.4g mm", t.BlindTop.Millimetres(), t.BlindBottom.Millimetres(), probe.Millimetres())
	}
	if t.ReferenceReflector != 0 {
		v.between(path+".reference_reflector", "distance of the reference reflector", t.ReferenceReflector.Millimetres(), 1, (t.ReferencePoint - span).Millimetres(), "mm")
	}
}

func (v *validation) dp(path string, t *Transmitter) {
	v.between(path+".elevation", "elevation of the cell above the lower tap", float64(t.Elevation), -100, 100, "m")
	if t.Principle != DPDry {
		v.between(path+".leg_density", "density of the fill", float64(t.LegDensity), 300, 3000, "kg/m3")
	}
	v.between(path+".leg_expansion", "thermal expansion of the fill", t.LegExpansion, 0, 0.01, "1/K")
	if t.Compensated {
		v.between(path+".calibrated_for", "density the device is calibrated for", float64(t.CalibratedFor), 100, 4000, "kg/m3")
	}
}

func (v *validation) displacer(path string, t *Transmitter) {
	v.between(path+".displacer_length", "length of the displacer", t.DisplacerLength.Millimetres(), 50, 20_000, "mm")
	span := v.sheet.Chamber.CentreToCentre
	if t.DisplacerBottom >= span || t.DisplacerBottom+t.DisplacerLength <= 0 {
		v.report(path+".displacer_bottom", "a displacer from %.5g to %.5g mm does not hang between the taps", t.DisplacerBottom.Millimetres(), (t.DisplacerBottom + t.DisplacerLength).Millimetres())
	}
	if t.CalibratedFor != 0 {
		v.between(path+".calibrated_for", "density the device is calibrated for", float64(t.CalibratedFor), 100, 4000, "kg/m3")
		return
	}
	v.between(path+".displacer_area", "cross-section of the displacer", 1e4*t.DisplacerArea, 0.1, 1000, "cm2")
	v.between(path+".displacer_mass", "mass of the displacer", float64(t.DisplacerMass), 0.05, 500, "kg")
	if volume := t.DisplacerArea * float64(t.DisplacerLength); volume > 0 && float64(t.DisplacerMass)/volume < v.sheet.SGMax*float64(WaterReferenceDensity) {
		v.report(path+".displacer_mass", "a displacer of mean density %.4g kg/m3 floats in the heaviest liquid in service; it must hang", float64(t.DisplacerMass)/volume)
	}
}

func (v *validation) points() {
	s := v.sheet
	if len(s.Points) > MaxPoints {
		v.report("points", "%d point switches; a gauge has at most %d", len(s.Points), MaxPoints)
	}
	low, high := -s.Chamber.BelowLowerTap, s.Chamber.CentreToCentre+s.Chamber.AboveUpperTap
	for i, p := range s.Points {
		path := fmt.Sprintf("points[%d]", i)
		v.between(path+".elevation", "elevation above the lower tap", p.Elevation.Millimetres(), low.Millimetres(), high.Millimetres(), "mm")
		v.between(path+".differential", "differential", p.Differential.Millimetres(), 0, s.Chamber.CentreToCentre.Millimetres()/2, "mm")
		word(v, path+".operated", p.Operated, "", "float", "liquid")
		if p.ByFloat() && s.Float.Mass == 0 {
			v.report(path+".operated", "the float's magnet works this switch, and the gauge has no float")
		}
		if p.Tag == "" {
			v.report(path+".tag", "a point switch needs a tag")
		}
	}
}

func (v *validation) limits() {
	s := v.sheet
	for _, l := range []struct {
		path, what string
		value      float64
	}{
		{"limits.gap", "allowed gap", float64(s.Limits.Gap)},
		{"limits.drift", "drift limit", float64(s.Limits.Drift)},
		{"limits.move_size", "size of a move", float64(s.Limits.MoveSize)},
		{"limits.max_age", "oldest age", s.Limits.MaxAge},
		{"budget.float_mass", "uncertainty of the float's mass", float64(s.Budget.FloatMass)},
		{"budget.follower", "uncertainty of the follower", float64(s.Budget.Follower)},
		{"budget.tap_elevation", "uncertainty of the tap elevation", float64(s.Budget.TapElevation)},
		{"budget.density", "uncertainty of the density", s.Budget.Density},
		{"budget.chamber_temperature", "uncertainty of the chamber temperature", float64(s.Budget.ChamberTemp)},
	} {
		if !(l.value >= 0) || math.IsInf(l.value, 0) {
			v.report(l.path, "%s is %g; it cannot be negative", l.what, l.value)
		}
	}
	v.between("budget.coverage", "coverage factor", s.Budget.Coverage, 1, 5, "")
	if r := s.Limits.CommonRange; r != [2]quantity.Length{} {
		if r[0] < 0 || r[1] > s.Chamber.CentreToCentre || r[0] >= r[1] {
			v.report("limits.common_range", "%.5g to %.5g mm is not a range between the taps, 0 to %.5g mm", r[0].Millimetres(), r[1].Millimetres(), s.Chamber.CentreToCentre.Millimetres())
		}
	}
}
