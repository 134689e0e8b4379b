package datasheet_test

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"

	"github.com/google/go-cmp/cmp"
)

func mm(v float64) quantity.Length { return quantity.Length(v) * quantity.Millimetre }

// sheet is a complete data sheet without a problem.
func sheet() datasheet.Sheet {
	return datasheet.Sheet{
		Tag: "LG-301", MaxPressure: 25e5, MaxTemperature: 473, OperatingPressure: 5e5, OperatingTemp: 313,
		DesignSG: 0.8, SGMin: 0.7, SGMax: 0.9,
		Chamber: datasheet.Chamber{PipeSize: "2-1/2", Schedule: "40", CentreToCentre: 1.2, BelowLowerTap: 0.3, AboveUpperTap: 0.3},
		Float:   datasheet.Float{Mass: 0.229, Diameter: mm(50), Length: mm(250), Wall: mm(0.8), MaxPressure: 40e5, Follower: datasheet.ReedChain},
		Transmitter: &datasheet.Transmitter{
			Tag: "LT-301", Principle: datasheet.Radar, ReferencePoint: 1.5, BlindTop: 0.1, ReferenceReflector: 0.2,
		},
		Second: &datasheet.Transmitter{
			Tag: "LT-302", Principle: datasheet.Displacer, Chamber: "secondary", DisplacerLength: 1.2, DisplacerArea: 1e-3, DisplacerMass: 4,
		},
		Points: []datasheet.Point{{Tag: "LSH-301", Elevation: 1.0, Differential: mm(10), Operated: "float"}},
	}
}

func TestValidSheet(t *testing.T) {
	s := sheet()
	before := *s.Transmitter
	if got := s.Validate(); got != nil {
		t.Errorf("problems: %v", got)
	}
	if diff := cmp.Diff(before, *s.Transmitter); diff != "" {
		t.Errorf("Validate changed the transmitter (-before +after):\n%s", diff)
	}
}

// One fault per row, the path it must be reported under and words of the
// message.
func TestProblems(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*datasheet.Sheet)
		path  string
		words string
	}{
		{"no tag", func(s *datasheet.Sheet) { s.Tag = "" }, "tag", "needs a tag"},
		{"gravity of the moon", func(s *datasheet.Sheet) { s.Gravity = 1.62 }, "data_sheet.gravity", "between 9.76 and 9.84"},
		{"heavy range in service", func(s *datasheet.Sheet) { s.SGMin = 0.85 }, "data_sheet.specific_gravity_range", "lowest specific gravity"},
		{"light range in service", func(s *datasheet.Sheet) { s.SGMax = 0.75 }, "data_sheet.specific_gravity_range", "highest specific gravity"},
		{"operating above maximum", func(s *datasheet.Sheet) { s.OperatingPressure = 30e5 }, "data_sheet.operating_pressure", "between 0 and 25 bar"},
		{"no pressure at all", func(s *datasheet.Sheet) { s.OperatingPressure = 0 }, "data_sheet.operating_pressure", "is needed"},
		{"no temperature at all", func(s *datasheet.Sheet) { s.OperatingTemp = 0 }, "data_sheet.operating_temperature", "is needed"},
		{"too hot", func(s *datasheet.Sheet) { s.OperatingTemp = 500 }, "data_sheet.operating_temperature", "operating temperature"},
		{"taps 2 mm apart", func(s *datasheet.Sheet) { s.Chamber.CentreToCentre = 0.002 }, "chamber.centre_to_centre", "between 50 and 30000 mm"},
		{"unknown pipe", func(s *datasheet.Sheet) { s.Chamber.PipeSize = "7" }, "chamber.pipe_size", `"7" is not one of`},
		{"unknown schedule", func(s *datasheet.Sheet) { s.Chamber.Schedule = "41" }, "chamber.pipe_size", "not one of 5S, 10S, 40, 80, 160"},
		{"bore wider than pipe", func(s *datasheet.Sheet) { s.Chamber.InnerDiameter = 0.1 }, "chamber.inner_diameter", "not smaller"},
		{"strange connection", func(s *datasheet.Sheet) { s.Chamber.ConnectionStyle = "diagonal" }, "chamber.connection_style", "diagonal"},
		{"float wider than bore", func(s *datasheet.Sheet) { s.Float.Diameter = mm(62) }, "float.diameter", "does not run free"},
		{"float sinks at the lowest gravity", func(s *datasheet.Sheet) { s.Float.Mass = 0.33 }, "float.mass", "sinks"},
		{"float shorter than its ends", func(s *datasheet.Sheet) { s.Float.Length = mm(40); s.Float.MagnetAbove = mm(20) }, "float", "shorter than its two"},
		{"unknown ends", func(s *datasheet.Sheet) { s.Float.EndShape = "conical" }, "float.end_shape", "conical"},
		{"magnet outside", func(s *datasheet.Sheet) { s.Float.MagnetAbove = mm(300) }, "float.magnet_height", "magnet"},
		{"float rated below the gauge", func(s *datasheet.Sheet) { s.Float.MaxPressure = 20e5 }, "float.maximum_pressure", "rated for 20 bar"},
		{"no room below", func(s *datasheet.Sheet) { s.Chamber.BelowLowerTap = 0.1 }, "chamber.below_lower_tap", "rests on the bottom"},
		{"no room above", func(s *datasheet.Sheet) { s.Chamber.AboveUpperTap = 0.01 }, "chamber.above_upper_tap", "stand above the surface"},
		{"radar below the upper tap", func(s *datasheet.Sheet) { s.Transmitter.ReferencePoint = 1.1 }, "transmitter.reference_point", "not above the upper tap"},
		{"reflector below the upper tap", func(s *datasheet.Sheet) { s.Transmitter.ReferenceReflector = 0.5 }, "transmitter.reference_reflector", "reference reflector"},
		{"blind all over", func(s *datasheet.Sheet) { s.Transmitter.BlindTop = 2 }, "transmitter.blind_top", "leave nothing"},
		{"wet leg without fill", func(s *datasheet.Sheet) { s.Transmitter.Principle = datasheet.DPWet }, "transmitter.leg_density", "density of the fill"},
		{"unknown principle", func(s *datasheet.Sheet) { s.Transmitter.Principle = "sonar" }, "transmitter.principle", "sonar"},
		{"compensated for nothing", func(s *datasheet.Sheet) {
			s.Transmitter.Principle, s.Transmitter.Compensated = datasheet.DPDry, true
		}, "transmitter.calibrated_for", "calibrated for"},
		{"displacer that floats", func(s *datasheet.Sheet) { s.Second.DisplacerMass = 1 }, "second_transmitter.displacer_mass", "must hang"},
		{"displacer above the taps", func(s *datasheet.Sheet) { s.Second.DisplacerBottom = 2 }, "second_transmitter.displacer_bottom", "between the taps"},
		{"point above the chamber", func(s *datasheet.Sheet) { s.Points[0].Elevation = 2 }, "points[0].elevation", "between -300 and 1500 mm"},
		{"point worked by a float that is not there", func(s *datasheet.Sheet) { s.Float = datasheet.Float{} }, "points[0].operated", "no float"},
		{"too many points", func(s *datasheet.Sheet) {
			for range datasheet.MaxPoints {
				s.Points = append(s.Points, s.Points[0])
			}
		}, "points", "at most 8"},
		{"negative limit", func(s *datasheet.Sheet) { s.Limits.Gap = -1 }, "limits.gap", "cannot be negative"},
		{"not a number", func(s *datasheet.Sheet) { s.Budget.Density = math.NaN() }, "budget.density", "cannot be negative"},
		{"coverage of nothing", func(s *datasheet.Sheet) { s.Budget.Coverage = 0.5 }, "budget.coverage", "between 1 and 5"},
		{"common range upside down", func(s *datasheet.Sheet) { s.Limits.CommonRange = [2]quantity.Length{1, 0.5} }, "limits.common_range", "not a range"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := sheet()
			c.spoil(&s)
			for _, p := range s.Validate() {
				if p.Path == c.path && strings.Contains(p.Message, c.words) {
					return
				}
			}
			t.Errorf("no problem %q with %q among %v", c.path, c.words, s.Validate())
		})
	}
}

func TestNormalise(t *testing.T) {
	s := sheet()
	s.Normalise()
	again := s
	again.Normalise()
	if diff := cmp.Diff(s, again); diff != "" {
		t.Errorf("second Normalise changed (-first +second):\n%s", diff)
	}
	// ASME B36.10M, NPS 2-1/2 schedule 40: 73.0 mm outside, wall 5.16 mm.
	if got := s.Chamber.InnerDiameter.Millimetres(); math.Abs(got-62.68) > 1e-9 {
		t.Errorf("bore %g mm, want 62.68", got)
	}
	if s.Float.BuiltFor != s.DesignDensity() || s.Float.Pitch != datasheet.DefaultPitch || s.Budget.Coverage != 2 || s.Transmitter.Chamber != "same" {
		t.Errorf("defaults missing: %+v", s)
	}
	plain := datasheet.Sheet{DesignSG: 1}
	plain.Normalise()
	if plain.Float != (datasheet.Float{}) {
		t.Errorf("a gauge without a float got one: %+v", plain.Float)
	}
}

// A clone shares no pointer and no slice, however deep, with what it was made of.
func TestClone(t *testing.T) {
	s := sheet()
	cooling := quantity.TemperatureDifference(5)
	s.Chamber.Cooling = &cooling
	s.Pressure, s.Temperature = &datasheet.Instrument{Tag: "PT"}, &datasheet.Instrument{Tag: "TT"}
	s.ChamberTemperature, s.Densitometer = &datasheet.Instrument{Tag: "TC"}, &datasheet.Instrument{Tag: "DT"}
	s.Vessel = &datasheet.Vessel{Tag: "LT"}
	s.Fluid = datasheet.Fluid{
		Table: []datasheet.TablePoint{{Density: 1}}, Components: []datasheet.Component{{Name: "a"}}, Powers: []float64{1},
		Parts: []datasheet.Part{{Fluid: datasheet.Fluid{Powers: []float64{2}}}}, Upper: &datasheet.Fluid{Table: []datasheet.TablePoint{{Density: 3}}},
	}
	c := s.Clone()
	if diff := cmp.Diff(s, c); diff != "" {
		t.Errorf("clone differs (-sheet +clone):\n%s", diff)
	}
	shared(t, "Sheet", reflect.ValueOf(s), reflect.ValueOf(c))
}

// shared walks two equal values and reports pointers and slices that are one.
func shared(t *testing.T, path string, a, b reflect.Value) {
	t.Helper()
	switch a.Kind() {
	case reflect.Pointer:
		if a.IsNil() {
			return
		}
		if a.Pointer() == b.Pointer() {
			t.Errorf("%s is shared", path)
		}
		shared(t, path, a.Elem(), b.Elem())
	case reflect.Slice:
		if a.Len() > 0 && a.Pointer() == b.Pointer() {
			t.Errorf("%s is shared", path)
		}
		for i := range a.Len() {
			shared(t, fmt.Sprintf("%s[%d]", path, i), a.Index(i), b.Index(i))
		}
	case reflect.Struct:
		for i := range a.NumField() {
			shared(t, path+"."+a.Type().Field(i).Name, a.Field(i), b.Field(i))
		}
	}
}

func TestTrips(t *testing.T) {
	up, down := datasheet.Point{Elevation: 0.5, Differential: 0.02}.Trips()
	if math.Abs(float64(up-0.51)) > 1e-15 || math.Abs(float64(down-0.49)) > 1e-15 {
		t.Errorf("trips at %v and %v", float64(up), float64(down))
	}
}
