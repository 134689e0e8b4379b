package fit_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fit"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

func mm(v float64) quantity.Length { return quantity.Length(v) * quantity.Millimetre }

// sheet is a condensate gauge that fits, with the float of the cases F1.
func sheet() datasheet.Sheet {
	return datasheet.Sheet{
		Tag: "LG-700", Service: "light oil", MaxPressure: 11e5, MaxTemperature: 373.15, OperatingPressure: 3e5, OperatingTemp: 303.15,
		DesignSG: 0.8, SGMin: 0.75, SGMax: 0.85,
		Chamber: datasheet.Chamber{Material: "316", PipeSize: "2-1/2", Schedule: "40", CentreToCentre: 1.2, BelowLowerTap: 0.3, AboveUpperTap: 0.3, Insulation: "insulated"},
		Fluid:   datasheet.Fluid{Name: "light oil", Model: datasheet.Petroleum, Group: "B", BaseDensity: 800, BaseTemperature: 288.15, Vapour: datasheet.Vapour{Model: datasheet.Gas, MolarMass: 0.028}},
		Float: datasheet.Float{
			Mass: 0.229074464324, Diameter: mm(50), Length: mm(250), Wall: mm(0.8), Material: "titanium", MaxPressure: 21e5,
			Follower: datasheet.Magnetostrictive, BuiltFor: 800,
		},
		Transmitter: &datasheet.Transmitter{Tag: "LT-700", Principle: datasheet.DPSeals, LegDensity: 960, LegExpansion: 1e-3},
		Temperature: &datasheet.Instrument{Tag: "TT-700"},
		Pressure:    &datasheet.Instrument{Tag: "PT-700"},
		Vessel:      &datasheet.Vessel{Tag: "LT-701"},
	}
}

func find(r fit.Report, w fit.Weight, topic, words string) bool {
	for _, a := range r.Advice {
		if a.Weight == w && a.Topic == topic && strings.Contains(a.Sentence, words) && a.Basis != "" {
			return true
		}
	}
	return false
}

func TestFits(t *testing.T) {
	r := fit.Check(sheet())
	for _, a := range r.Advice {
		if a.Weight != fit.Note {
			t.Errorf("%s %s: %s", a.Weight, a.Topic, a.Sentence)
		}
	}
	if r.Verdict != "Fits." {
		t.Errorf("verdict %q", r.Verdict)
	}
	if len(r.Range) != 4 || len(r.Gaps) != 9 || r.Smallest <= 0 {
		t.Errorf("%d densities, %d gaps, smallest %v mm; want 4, 9 and one", len(r.Range), len(r.Gaps), r.Smallest)
	}
}

// Case F1b: in 800 kg/m³ the float of 500 kg/m³ keeps 1.6 times its weight and
// 137.4 g to spare; 10 g more sink it by 10/(800 · 1.9635e-3) mm, less what gas
// there is.
func TestFloatNumbers(t *testing.T) {
	s := sheet()
	s.Fluid.Vapour, s.Float.Material = datasheet.Vapour{}, "unknown" // no growth
	r := fit.Check(s)
	at := r.Range[1]
	vectors.Within(t, "reserve", at.Reserve, 1.6, 1e-9)
	vectors.Within(t, "spare mass, g", at.Spare, 137.444679, 1e-5)
	vectors.Within(t, "uplift, N", at.Uplift, 1.347872, 1e-6)
	vectors.Within(t, "immersion, mm", at.Immersion, 37.0/0.24, 1e-6)
	vectors.Within(t, "off, mm", at.Shift, 0, 1e-9)
	vectors.Within(t, "mm per 10 g", at.PerTenG, 10/(0.8*1.963495408), 1e-6)
	vectors.Within(t, "mm per 0.1 N", at.DeadBand, 0.1/(800*9.80665*1.963495408e-3)*1e3, 1e-6)
	// The immersion in the cylinder is 1/24 m + m/(ρA): it moves by m/A (1/ρ − 1/ρ').
	low, high := 0.75*999.016, 0.85*999.016
	vectors.Within(t, "movement, mm", r.Movement, 1e3*0.229074464324/1.963495408494e-3*(1/low-1/high), 1e-6)
}

func TestAdvice(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*datasheet.Sheet)
		weight fit.Weight
		topic  string
		words  string
	}{
		{"float sinks at the light end", func(s *datasheet.Sheet) { s.SGMin = 0.45 }, fit.Problem, "float", "sinks"},
		{"little reserve", func(s *datasheet.Sheet) { s.SGMin = 0.55 }, fit.Warning, "float", "A deposit of"},
		{"wide range of density, known", func(s *datasheet.Sheet) { s.SGMin = 0.62 }, fit.Note, "density", "it is, by TT-700"},
		{"wide range of density, not known", func(s *datasheet.Sheet) { s.SGMin, s.Temperature = 0.62, nil }, fit.Warning, "density", "nothing measures either"},
		{"hot and nothing said of the chamber", func(s *datasheet.Sheet) { s.OperatingTemp, s.MaxTemperature = 403.15, 420 }, fit.Note, "chamber temperature", "30 K are taken"},
		{"liquid outside its range", func(s *datasheet.Sheet) { s.Fluid.BaseDensity = 840; s.SGMax, s.DesignSG = 0.81, 0.8 }, fit.Warning, "specific gravity", "outside"},
		{"liquid not quite that of a sheet without a range", func(s *datasheet.Sheet) { s.SGMin, s.SGMax, s.DesignSG = 0.79, 0.79, 0.79 }, fit.Note, "specific gravity", "not the 0.790 of the data sheet"},
		{"liquid not that of a sheet without a range", func(s *datasheet.Sheet) {
			s.Fluid.BaseDensity = 870
			s.SGMin, s.SGMax, s.DesignSG = 0.79, 0.79, 0.79
		}, fit.Warning, "specific gravity", "not the 0.790 of the data sheet"},
		{"float sinks where it operates", func(s *datasheet.Sheet) {
			s.Fluid.Model, s.Fluid.Group, s.Fluid.BaseDensity = datasheet.Constant, "", 80
		}, fit.Problem, "specific gravity", "The float would sink in it"},
		{"cold chamber on hot oil", func(s *datasheet.Sheet) {
			d := quantity.TemperatureDifference(60)
			s.OperatingTemp, s.MaxTemperature, s.Chamber.Cooling = 403.15, 420, &d
		}, fit.Warning, "chamber temperature", "grows with height"},
		{"hot chamber grows", func(s *datasheet.Sheet) { s.OperatingTemp, s.MaxTemperature = 403.15, 420 }, fit.Note, "thermal growth", "grows by 2.2 mm"},
		{"pressure beyond the wall", func(s *datasheet.Sheet) { s.MaxPressure = 300e5; s.Float.MaxPressure = 300e5 }, fit.Problem, "chamber wall", "maker's rating and the design code"},
		{"pressure beyond the float, rated", func(s *datasheet.Sheet) { s.MaxPressure, s.Float.MaxPressure = 30e5, 31e5 }, fit.Warning, "float pressure", "filled or ribbed"},
		{"pressure beyond the float, unrated", func(s *datasheet.Sheet) { s.MaxPressure, s.Float.MaxPressure = 30e5, 0 }, fit.Problem, "float pressure", "none is given"},
		{"no rating", func(s *datasheet.Sheet) { s.Float.MaxPressure = 0 }, fit.Warning, "float pressure", "ask for it"},
		{"unknown shell", func(s *datasheet.Sheet) { s.Float.Wall = 0 }, fit.Note, "float pressure", "not checked"},
		{"longer than usual", func(s *datasheet.Sheet) { s.Chamber.CentreToCentre = 7 }, fit.Note, "measured range", "made on request"},
		{"shorter than usual", func(s *datasheet.Sheet) { s.Chamber.CentreToCentre = 0.1 }, fit.Note, "measured range", "6 in to 20 ft"},
		{"schedule 80", func(s *datasheet.Sheet) { s.Chamber.Schedule = "80" }, fit.Note, "chamber", "standard chamber"},
		{"design code", func(*datasheet.Sheet) {}, fit.Note, "design code", "B31.1 or B31.3"},
		{"magnet in the mass", func(*datasheet.Sheet) {}, fit.Note, "float", "include the magnet"},
		{"radar blind at the top", func(s *datasheet.Sheet) {
			s.Transmitter = &datasheet.Transmitter{Tag: "LT-7", Principle: datasheet.Radar, ReferencePoint: 1.3, BlindTop: 0.2}
		}, fit.Warning, "radar", "blind above 1100 mm"},
		{"two readers of one float", func(s *datasheet.Sheet) {
			s.Transmitter = &datasheet.Transmitter{Tag: "LT-7", Principle: datasheet.FloatFollower}
		}, fit.Warning, "instruments", "follows the same float"},
		{"nothing to contradict the float", func(s *datasheet.Sheet) { s.Transmitter, s.Vessel = nil, nil }, fit.Warning, "instruments", "Nothing on this gauge"},
		{"one pair of connections", func(s *datasheet.Sheet) { s.Vessel = nil }, fit.Note, "instruments", "plugged connection"},
		{"interface", func(s *datasheet.Sheet) {
			oil := s.Fluid
			s.Fluid = datasheet.Fluid{Model: datasheet.Coefficient, BaseDensity: 1020, BaseTemperature: 293.15, Expansion: 4e-4, Upper: &oil}
			s.DesignSG, s.SGMin, s.SGMax, s.Float.BuiltFor, s.Float.Mass = 1.02, 1, 1.05, 1020, 0.42
		}, fit.Warning, "interface", "neither the interface nor the total level"},
		{"profile of a cold chamber", func(s *datasheet.Sheet) {
			d := quantity.TemperatureDifference(40)
			s.Fluid, s.DesignSG, s.SGMin, s.SGMax, s.Float.BuiltFor = datasheet.Fluid{Model: datasheet.Water, Vapour: datasheet.Vapour{Model: datasheet.Steam}}, 0.75, 0.7, 0.9, 750
			s.OperatingPressure, s.MaxPressure, s.OperatingTemp, s.MaxTemperature, s.Float.MaxPressure, s.Float.Wall = 70e5, 80e5, 0, 600, 90e5, mm(2)
			s.Chamber.Cooling, s.Chamber.Schedule = &d, "80"
		}, fit.Note, "chamber temperature", "80 K colder at the lower one"},
		{"unknown fluid", func(s *datasheet.Sheet) { s.Fluid.Model = "mud" }, fit.Problem, "data sheet", "mud"},
		{"outside the fluid's model", func(s *datasheet.Sheet) { s.OperatingTemp, s.MaxTemperature = 440, 450 }, fit.Problem, "fluid", "no density at"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := sheet()
			c.change(&s)
			r := fit.Check(s)
			if !find(r, c.weight, c.topic, c.words) {
				t.Errorf("no %s on %s with %q:\n%s", c.weight, c.topic, c.words, r.Text())
			}
			if problems := strings.HasPrefix(r.Verdict, "Does not fit"); problems != (c.weight == fit.Problem) {
				t.Errorf("verdict %q", r.Verdict)
			}
		})
	}
}

// A cold chamber on a hot vessel, point switches and a float too small for its
// pipe, in print.
func TestTextOfADrum(t *testing.T) {
	s := sheet()
	d := quantity.TemperatureDifference(40)
	s.Fluid = datasheet.Fluid{Model: datasheet.Water, Vapour: datasheet.Vapour{Model: datasheet.Steam}}
	s.DesignSG, s.SGMin, s.SGMax, s.Float.BuiltFor = 0.75, 0.3, 0.9, 750
	s.OperatingPressure, s.MaxPressure, s.OperatingTemp, s.MaxTemperature, s.Float.MaxPressure = 70e5, 80e5, 0, 600, 90e5
	s.Chamber.Cooling, s.Chamber.PipeSize, s.Service = &d, "4", ""
	s.Points = []datasheet.Point{{Tag: "LSH-700", Elevation: 1}}
	r := fit.Check(s)
	text := r.Text()
	for _, want := range []string{
		"Does LG-700 fit its service?", "Does not fit", "Chamber against vessel at the operating state", "sinks", "mm of play on each side",
		"LSH-700 is worked by the float's magnet", "the maker states 89.0 bar(g)",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("text lacks %q:\n%s", want, text)
		}
	}
	if len(r.Cold) != 4 || !(r.Cold[3].Chamber < r.Cold[3].Vessel) {
		t.Errorf("cold chamber: %+v", r.Cold)
	}
}

// A float between two liquids that are not different enough.
func TestBetweenTwoLiquids(t *testing.T) {
	for _, c := range []struct {
		mass   float64
		weight fit.Weight
		words  string
	}{{0.42, fit.Note, "float of 916 kg/m³ is"}, {0.452, fit.Warning, "only just held"}, {0.47, fit.Problem, "leaves the interface"}} {
		s := sheet()
		oil := s.Fluid
		s.Fluid = datasheet.Fluid{Model: datasheet.Coefficient, BaseDensity: 1020, BaseTemperature: 293.15, Expansion: 4e-4, Upper: &oil}
		s.DesignSG, s.SGMin, s.SGMax, s.Float.BuiltFor, s.Float.Mass = 1.02, 1, 1.05, 1045, quantity.Mass(c.mass)
		if r := fit.Check(s); !find(r, c.weight, "float", c.words) {
			t.Errorf("%v kg: no %s with %q:\n%s", c.mass, c.weight, c.words, r.Text())
		}
	}
}

func TestText(t *testing.T) {
	r := fit.Check(sheet())
	text := r.Text()
	for _, want := range []string{"Does LG-700 (light oil) fit its service?", "Float over the range in service", "Smallest gap that means something", "for plausibility only", "common practice, no source"} {
		if !strings.Contains(text, want) {
			t.Errorf("text lacks %q:\n%s", want, text)
		}
	}
	if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
		t.Errorf("text with no number:\n%s", text)
	}
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
	if math.IsNaN(r.Movement) {
		t.Error("movement is no number")
	}
}
