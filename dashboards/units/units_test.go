package units

import (
	"math"
	"strings"
	"testing"
	"testing/quick"

	"bridlewatch/compare/quantity"
)

// Values to check against: NIST SP 811 (2008), appendix B.8 lists 1 psi =
// 6.894 757 kPa, 1 lb/ft3 = 16.018 46 kg/m3, 1 in = 25.4 mm exactly, and
// t/°C = (t/°F - 32)/1.8.
func TestConversionFactors(t *testing.T) {
	tests := []struct {
		name string
		got  float64
		want float64
		tol  float64
	}{
		{"NIST SP 811 B.8: psi in kPa", psi.factor / 1e3, 6.894757, 5e-7},
		{"NIST SP 811 B.8: lb/ft3 in kg/m3", poundPerFt3.factor, 16.01846, 5e-6},
		{"NIST SP 811 B.8: inch in mm", inch.factor * 1e3, 25.4, 1e-12},
		{"NIST SP 811 B.8: 212 °F is 100 °C", fahrenheit.shown(373.15), 212, 1e-9},
		{"NIST SP 811 B.8: 32 °F is 0 °C", fahrenheit.shown(273.15), 32, 1e-9},
		{"-40 on both scales", fahrenheit.shown(233.15), -40, 1e-9},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if math.Abs(tt.got-tt.want) > tt.tol {
				t.Errorf("got %.9g, want %.9g", tt.got, tt.want)
			}
		})
	}
}

func TestWriting(t *testing.T) {
	tests := []struct{ name, got, want string }{
		{"uncertainty to two digits, value to the same place", Metric.LengthWith(0.612, 0.0045), "612.0 ± 9.0 mm"},
		{"large uncertainty rounds the value to tens", Metric.LengthWith(0.6123, 0.062), "610 ± 120 mm"},
		{"uncertainty that rounds up to the next decade", Metric.LengthWith(0.6, 0.00498), "600 ± 10 mm"},
		{"no uncertainty", Metric.LengthWith(0.612, 0), "612 mm"},
		{"inches", US.LengthWith(0.612, 0.0045), "24.09 ± 0.35 in"},
		{"true minus", Metric.LengthFine(-0.0293), "−29.3 mm"},
		{"signed", Metric.Signed(0.003), "+3.0 mm"},
		{"zero has no sign", Metric.Signed(-0.00001), "0.0 mm"},
		{"absolute pressure says so", Metric.Pressure(9.02e5), "9.02 bar(a)"},
		{"psi", US.Pressure(101325), "14.7 psi(a)"},
		{"temperature", Metric.Temperature(quantity.FromCelsius(165.3)), "165.3 °C"},
		{"density with uncertainty", Metric.DensityWith(902.4, 1.6), "902.4 ± 3.2 kg/m³"},
		{"elevation in feet", US.Elevation(4.25), "13.94 ft"},
		{"raw without idle zeros", Raw(609.0, "mm"), "609 mm"},
		{"raw with its digits", Raw(13.7912, "mA"), "13.7912 mA"},
		{"contact", Metric.SIValue(1, ""), "wet"},
		{"a chance", Chance(0.962), "96 %"},
		{"a chance of 200 to 1 is no certainty", Chance(200.0 / 201), "over 99 %"},
		{"a chance that is named alone", Chance(1), "over 99 %"},
		{"a chance that remains", Chance(0.004), "under 1 %"},
		{"zero", Significant(0, 4), "0.000"},
		{"rounding to the next decade", Significant(9.9996, 4), "10.00"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := strings.ReplaceAll(tt.got, NoBreak, " "); got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

// TestValueAndUncertaintyEndAtTheSamePlace holds for any pair.
func TestValueAndUncertaintyEndAtTheSamePlace(t *testing.T) {
	decimals := func(s string) int {
		if at := strings.IndexByte(s, '.'); at >= 0 {
			return len(s) - at
		}
		return 0
	}
	same := func(v int32, u uint16) bool {
		value, half := Rounded(float64(v)/1000, float64(u)/1000)
		return u == 0 && half == "" || decimals(value) == decimals(half)
	}
	if err := quick.Check(same, &quick.Config{MaxCount: 5000}); err != nil {
		t.Error(err)
	}
}

func TestNamed(t *testing.T) {
	for _, s := range Sets() {
		if got, ok := Named(s.Name); !ok || got.Name != s.Name {
			t.Errorf("set %q is not found by its name", s.Name)
		}
	}
	if got, ok := Named("furlongs"); ok || got.Name != Metric.Name {
		t.Errorf("an unknown set gives %q, %v", got.Name, ok)
	}
}
