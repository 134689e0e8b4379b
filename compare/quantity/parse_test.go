package quantity_test

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/compare/quantity"
)

// Factors are exact by definition (NIST SP 811:2008, appendix B) unless the
// row says otherwise.
func TestParse(t *testing.T) {
	tests := []struct {
		name string
		kind quantity.Kind
		text string
		want float64
	}{
		{"metres", quantity.KindLength, "1.25 m", 1.25},
		{"millimetres without space", quantity.KindLength, "850mm", 0.85},
		{"centimetres", quantity.KindLength, "12 cm", 0.12},
		{"inches", quantity.KindLength, "33.5 in", 0.8509},
		{"feet", quantity.KindLength, "6 ft", 1.8288},
		{"typographic minus", quantity.KindLength, "−40 mm", -0.04},
		{"plus and exponent", quantity.KindLength, "+1.5e3 mm", 1.5},
		{"no leading zero", quantity.KindLength, ".5 m", 0.5},
		{"trailing point", quantity.KindLength, "5. m", 5},
		{"no-break space", quantity.KindLength, "5\u00a0mm", 0.005},
		{"bar absolute", quantity.KindPressure, "42 bar(a)", 42e5},
		{"psia, lbf per square inch", quantity.KindPressure, "14.695948775513427 psia", 101325},
		{"standard atmosphere", quantity.KindPressure, "1 atm(a)", 101325},
		{"gauge kind keeps its zero", quantity.KindGaugePressure, "3 bar(g)", 3e5},
		{"conventional inch of water", quantity.KindPressureDifference, "100 inH2O(4 degC)", 24908.891},
		{"inch of water at 39.2 degF is the same", quantity.KindPressureDifference, "100 inH2O (39.2 °F)", 24908.891},
		{"inch of water at 60 degF", quantity.KindPressureDifference, "100 inH2O(60 degF)", 24884},
		{"inch of water at 20 degC, common practice, no source", quantity.KindPressureDifference, "100 inH₂O(20 °C)", 24864.1},
		{"millimetre of water", quantity.KindPressureDifference, "1000 mmH2O(4 degC)", 9806.65},
		{"millimetre of mercury, 133.322387415 Pa", quantity.KindPressureDifference, "760 mmHg(0 degC)", 760 * 133.322387415},
		{"technical atmosphere", quantity.KindPressureDifference, "1 kg/cm2", 98066.5},
		{"negative difference", quantity.KindPressureDifference, "-5.5 kPa", -5500},
		{"minus forty is the same on both scales", quantity.KindTemperature, "-40 degF", 233.15},
		{"degree sign", quantity.KindTemperature, "85 °C", 358.15},
		{"degree letter", quantity.KindTemperature, "85C", 358.15},
		{"kelvin", quantity.KindTemperature, "358 K", 358},
		{"steam point", quantity.KindTemperature, "212 deg F", 373.15},
		{"absolute zero", quantity.KindTemperature, "-273.15 degC", 0},
		{"difference", quantity.KindTemperatureDifference, "9 degF", 5},
		{"negative difference of temperature", quantity.KindTemperatureDifference, "-3 degC", -3},
		{"density", quantity.KindDensity, "850 kg/m3", 850},
		{"density typographic", quantity.KindDensity, "850 kg/m³", 850},
		{"relative to a litre", quantity.KindDensity, "0.85 kg/L", 850},
		{"pounds per cubic foot, 16.01846 kg/m3", quantity.KindDensity, "62.4 lb/ft3", 62.4 * 16.018463373960142},
		{"ounce", quantity.KindMass, "16 oz", 0.45359237},
		{"gram", quantity.KindMass, "250 g", 0.25},
		{"expansion per degF", quantity.KindPerTemperature, "0.0005 1/degF", 0.0009},
		{"percent", quantity.KindRatio, "2.5 %", 0.025},
		{"area", quantity.KindArea, "12.5 cm2", 12.5e-4},
		{"molar mass", quantity.KindMolarMass, "28.97 g/mol", 0.02897},
		{"pound-force", quantity.KindForce, "1 lbf", 4.4482216152605},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := quantity.Parse(tt.kind, tt.text)
			if err != nil {
				t.Fatal(err)
			}
			if !near(got, tt.want, 1e-14) {
				t.Errorf("Parse(%v, %q) = %.17g, want %.17g", tt.kind, tt.text, got, tt.want)
			}
		})
	}
}

func TestParseLengthFeetAndInches(t *testing.T) {
	tests := []struct {
		text   string
		inches float64
	}{
		{"3 ft 6 in", 42},
		{"3ft6in", 42},
		{"3 feet 6.5 inches", 42.5},
		{"3'-6 1/2\"", 42.5},
		{"3′ 6″", 42},
		{"0 ft 3/4 in", 0.75},
		{"-1 ft 2 in", -14},
		{"-0 ft 6 in", -6},
		{"20 ft", 240},
		{"33 1/2 in", 33.5},
		{"-7/8 inch", -0.875},
		{"−3/4\"", -0.75},
		{"2.5 ft", 30},
	}
	for _, tt := range tests {
		t.Run(tt.text, func(t *testing.T) {
			got, err := quantity.ParseLength(tt.text)
			if err != nil {
				t.Fatal(err)
			}
			if want := tt.inches * 0.0254; !near(got.Metres(), want, 1e-14) {
				t.Errorf("got %v m, want %v m", got, want)
			}
		})
	}
}

func TestParsePressureReference(t *testing.T) {
	const atmospheric quantity.Pressure = 98000
	tests := []struct {
		text string
		want float64
	}{
		{"0 bar(g)", 98000},
		{"42 barg", 42e5 + 98000},
		{"42 bara", 42e5},
		{"600 psig", 600*6894.757293168361 + 98000},
		{"600 psi (g)", 600*6894.757293168361 + 98000},
		{"101.325 kPa(a)", 101325},
		{"2 kPag", 2000 + 98000},
		{"6 MPa(gauge)", 6e6 + 98000},
		{"6 MPa(abs)", 6e6},
		{"-0.5 bar(g)", 48000},
		{"10 kg/cm2(g)", 980665 + 98000},
		{"10 kgf/cm²(a)", 980665},
	}
	for _, tt := range tests {
		t.Run(tt.text, func(t *testing.T) {
			got, err := quantity.ParsePressure(tt.text, atmospheric)
			if err != nil {
				t.Fatal(err)
			}
			if !near(float64(got), tt.want, 1e-14) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

func TestParseRange(t *testing.T) {
	tests := []struct {
		name      string
		kind      quantity.Kind
		text      string
		low, high float64
		unit      string
	}{
		{"level", quantity.KindLength, "0..1200 mm", 0, 1.2, "mm"},
		{"negative low end", quantity.KindLength, "-50..950 mm", -0.05, 0.95, "mm"},
		{"falling signal", quantity.KindLength, "48..0 in", 1.2192, 0, "in"},
		{"gauge pressure", quantity.KindPressure, "0..60 bar(g)", 1e5, 61e5, "bar(g)"},
		{"temperature", quantity.KindTemperature, "0 .. 200 degC", 273.15, 473.15, "degC"},
		{"dp", quantity.KindPressureDifference, "-66.4..-5.2 inH2O(4 degC)", -66.4 * 249.08891, -5.2 * 249.08891, "inH2O(4 degC)"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			low, high, unit, err := quantity.ParseRange(tt.kind, tt.text, 1e5)
			if err != nil {
				t.Fatal(err)
			}
			if !near(low, tt.low, 1e-14) || !near(high, tt.high, 1e-14) || unit != tt.unit {
				t.Errorf("got %v, %v, %q; want %v, %v, %q", low, high, unit, tt.low, tt.high, tt.unit)
			}
		})
	}
}

func TestParseRefuses(t *testing.T) {
	length := func(s string) error { _, err := quantity.ParseLength(s); return err }
	pressure := func(s string) error { _, err := quantity.ParsePressure(s, 101325); return err }
	difference := func(s string) error { _, err := quantity.ParsePressureDifference(s); return err }
	temperature := func(s string) error { _, err := quantity.ParseTemperature(s); return err }
	density := func(s string) error { _, err := quantity.ParseDensity(s); return err }
	mass := func(s string) error { _, err := quantity.ParseMass(s); return err }
	levels := func(s string) error {
		_, _, _, err := quantity.ParseRange(quantity.KindLength, s, 101325)
		return err
	}
	tests := []struct {
		name  string
		parse func(string) error
		text  string
		says  string // part of the message
	}{
		{"no unit", length, "12", "it has no unit"},
		{"message lists the units", length, "12", "units: mm, cm, m, in, ft, ft in"},
		{"empty", length, " ", "it is empty"},
		{"decimal comma", length, "1,25 m", "write a decimal point"},
		{"thousands separator", length, "1,250.0 mm", "no thousands separator"},
		{"not a number", length, "NaN m", "does not begin with a number"},
		{"infinity", length, "+Inf m", "does not begin with a number"},
		{"too large", length, "1e400 m", "too large"},
		{"hexadecimal", length, "0x10 m", "unknown unit"},
		{"unit of another kind", length, "5 kg", "is a unit of mass"},
		{"capitals", length, "5 MM", `write "mm", capitals matter`},
		{"twelve inches", length, "3 ft 12 in", "twelve inches or more"},
		{"broken feet", length, "3.5 ft 2 in", "whole feet"},
		{"three numbers of inches", length, "3 ft 1 2 in", "inches are not readable"},
		{"fraction of a metre", length, "1/2 m", "unknown unit"},
		{"feet that overflow", length, "1e300 ft 2 in", "whole feet"},
		{"a sign between", length, "3 ft -2 in", "inches are not readable"},
		{"two signs", length, "--3 ft 2 in", "begin with a number"},
		{"improper fraction", length, "3 ft 5/4 in", "inches are not readable"},
		{"negative inches", length, "3 ft --2 in", "inches are not readable"},
		{"no reference", pressure, "42 bar", `write "(g)" for gauge or "(a)" for absolute`},
		{"message lists both references", pressure, "42 bar", "psi(g)"},
		{"below vacuum", pressure, "-2 bar(g)", "below a perfect vacuum"},
		{"inch of water as a pressure", pressure, "40 inH2O", "must state its temperature"},
		{"inch of water without temperature", difference, "40 inH2O", `"inH2O(60 degF)"`},
		{"reference on a difference", difference, "4 bar(g)", "leave out the (a) or (g)"},
		{"below absolute zero", temperature, "-300 degC", "below absolute zero"},
		{"temperature without unit", temperature, "85", "it has no unit"},
		{"zero density", density, "0 kg/m3", "above zero"},
		{"specific gravity is no density", density, "0.85", "it has no unit"},
		{"negative mass", mass, "-1 g", "must not be negative"},
		{"range without dots", levels, "0-1200 mm", "no range"},
		{"range of nothing", levels, "5..5 mm", "both ends are the same"},
		{"range without unit", levels, "0..1200", "no unit"},
		{"range with a broken low end", levels, "x..1200 mm", "begin with a number"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := tt.parse(tt.text)
			var parseError *quantity.ParseError
			if !errors.As(err, &parseError) {
				t.Fatalf("got %v, want a *ParseError", err)
			}
			if !strings.Contains(err.Error(), tt.says) {
				t.Errorf("message %q does not say %q", err, tt.says)
			}
		})
	}
}

func TestParsePressureNeedsAtmosphereForGauge(t *testing.T) {
	if _, err := quantity.ParsePressure("1 bar(g)", 0); err == nil {
		t.Error("gauge pressure accepted without an atmospheric pressure")
	}
	if p, err := quantity.ParsePressure("1 bar(a)", 0); err != nil || p != 1e5 {
		t.Errorf("absolute pressure without atmospheric pressure: %v, %v", p, err)
	}
}

func TestUnit(t *testing.T) {
	type found struct {
		Kind          quantity.Kind
		Scale, Offset float64
		OK            bool
	}
	tests := []struct {
		name string
		want found
	}{
		{"mm", found{quantity.KindLength, 1e-3, 0, true}},
		{"degC", found{quantity.KindTemperature, 1, 273.15, true}},
		{"bar", found{quantity.KindPressureDifference, 1e5, 0, true}},
		{"bar(g)", found{quantity.KindGaugePressure, 1e5, 0, true}},
		{"bar(a)", found{quantity.KindPressure, 1e5, 0, true}},
		{"%", found{quantity.KindRatio, 0.01, 0, true}},
		{"furlong", found{}},
		{"", found{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var got found
			got.Kind, got.Scale, got.Offset, got.OK = quantity.Unit(tt.name)
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// Every listed unit reads back what it wrote, over twelve decades.
func TestEveryUnitRoundTrips(t *testing.T) {
	for kind := quantity.KindLength; kind <= quantity.KindRatio; kind++ {
		for _, name := range kind.Units() {
			scale, offset, err := quantity.UnitOf(kind, name)
			if err != nil {
				t.Fatalf("listed unit %q of %v: %v", name, kind, err)
			}
			for _, number := range []float64{1e-6, 0.1, 1, 3.3333333333, 999.999, 1e6} {
				text := strconv.FormatFloat(number, 'g', -1, 64) + " " + name
				got, err := quantity.Parse(kind, text)
				if err != nil {
					t.Errorf("%q: %v", text, err)
					continue
				}
				if back := (got - offset) / scale; math.Abs(back-number) > 1e-12*(number+math.Abs(offset/scale)) {
					t.Errorf("%q came back as %v", text, back)
				}
			}
		}
	}
}

func TestParseTemperatureDifference(t *testing.T) {
	if d, err := quantity.ParseTemperatureDifference("18 degF"); err != nil || !near(float64(d), 10, 1e-14) {
		t.Errorf("18 degF is %v K, %v", d, err)
	}
}

// The message carries the value, the range and the remedy.
func TestRangeErrorSaysWhatToDo(t *testing.T) {
	err := &quantity.RangeError{Model: "IAPWS-IF97", Quantity: "temperature", Value: 1200, Low: 273.15, High: 1073.15, Unit: "K", Remedy: "give a table"}
	if got, want := err.Error(), "IAPWS-IF97: temperature 1200 K is outside 273.15 to 1073.15 K: give a table"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"1.25 m", "3 ft 6 1/2 in", "3'-6\"", "42 bar(g)", "-40 degF", "inH2O", "1e999 m", "−", "1,5 kg", "0..5 mm", "5 \u00a0°C", "1/2 in", "7 ft -"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for kind := quantity.KindLength; kind <= quantity.KindRatio; kind++ {
			v, err := quantity.Parse(kind, s)
			checkParsed(t, s, v, err)
		}
		length, err := quantity.ParseLength(s)
		checkParsed(t, s, float64(length), err)
		if err == nil {
			again, err := quantity.ParseLength(strconv.FormatFloat(float64(length), 'g', -1, 64) + " m")
			if err != nil || again != length {
				t.Errorf("%q is %v m, which reads back as %v, %v", s, length, again, err)
			}
		}
		pressure, err := quantity.ParsePressure(s, 101325)
		checkParsed(t, s, float64(pressure), err)
		low, high, _, err := quantity.ParseRange(quantity.KindPressure, s, 101325)
		checkParsed(t, s, low, err)
		checkParsed(t, s, high, err)
	})
}

func checkParsed(t *testing.T, s string, v float64, err error) {
	t.Helper()
	var parseError *quantity.ParseError
	switch {
	case err != nil && !errors.As(err, &parseError):
		t.Errorf("%q: error %v is not a *ParseError", s, err)
	case err != nil && v != 0:
		t.Errorf("%q: value %v beside an error", s, v)
	case math.IsNaN(v) || math.IsInf(v, 0):
		t.Errorf("%q became %v", s, v)
	}
}

func near(got, want, relative float64) bool {
	return math.Abs(got-want) <= relative*math.Max(math.Abs(want), 1e-9)
}
