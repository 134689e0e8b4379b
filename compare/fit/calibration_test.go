package fit_test

import (
	"math"
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fit"
)

// Remote seals filled with 960 kg/m³ on taps 2 m apart and a liquid of
// 850 kg/m³: dP = g H (ρl h/H − ρf), −18828.768 Pa and −2157.463 Pa wherever
// the cell is (calculated from the formula).
func TestTransmitterSpan(t *testing.T) {
	s := sheet()
	s.Chamber.CentreToCentre = 2
	s.Fluid = datasheet.Fluid{Name: "oil", Model: datasheet.Constant, BaseDensity: 850, BaseTemperature: 303.15}
	s.Float.BuiltFor = 850
	s.DesignSG, s.SGMin, s.SGMax = 0.85, 0.8, 0.9
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-700", Principle: datasheet.DPSeals, LegDensity: 960, Elevation: -1.5}
	for _, c := range []struct {
		name    string
		low     float64
		high    float64
		covered bool
	}{
		{"as it is", -20e3, 0, true},
		{"written from the high end", 0, -20e3, true},
		{"ends within 2 %", -18.6e3, -2.2e3, true},
		{"sides the wrong way round", 0, 20e3, false},
		{"too narrow", -15e3, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := fit.Check(s, fit.Range{Tag: "LT-700", Low: c.low, High: c.high})
			if len(r.Spans) != 1 {
				t.Fatalf("%+v", r.Spans)
			}
			sp := r.Spans[0]
			if math.Abs(sp.Lower+18.828768) > 1e-6 || math.Abs(sp.Upper+2.157463) > 1e-6 || sp.Unit != "kPa" {
				t.Errorf("%+v, want -18.828768 to -2.157463 kPa", sp)
			}
			if sp.Covered != c.covered || find(r, fit.Warning, "transmitter range", "which side goes to which tap") == c.covered {
				t.Errorf("covered %v, want %v; %+v", sp.Covered, c.covered, r.Advice)
			}
			if !strings.Contains(r.Text(), "LT-700: -18.83 kPa at the lower tap, -2.157 kPa at the upper tap") {
				t.Error(r.Text())
			}
		})
	}
	if r := fit.Check(s); len(r.Spans) != 1 || r.Spans[0].Set != nil || !r.Spans[0].Covered {
		t.Errorf("range not known: %+v", r.Spans)
	}
}
