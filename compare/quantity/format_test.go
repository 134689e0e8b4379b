package quantity_test

import (
	"math"
	"regexp"
	"strconv"
	"testing"

	"bridlewatch/compare/quantity"
)

func TestFormatWithUncertainty(t *testing.T) {
	mm := quantity.Millimetre
	tests := []struct {
		name string
		got  string
		want string
	}{
		{"two digits below ten", quantity.FormatLength(612*mm, 9*mm, quantity.Metric), "612.0 ± 9.0 mm"},
		{"two digits above ten", quantity.FormatLength(612.34*mm, 12.34*mm, quantity.Metric), "612 ± 12 mm"},
		{"above a hundred both are rounded to tens", quantity.FormatLength(1612*mm, 123*mm, quantity.Metric), "1610 ± 120 mm"},
		{"9.96 rounds to two digits", quantity.FormatLength(612.34*mm, 9.96*mm, quantity.Metric), "612 ± 10 mm"},
		{"small", quantity.FormatLength(612.3456*mm, 0.0234*mm, quantity.Metric), "612.346 ± 0.023 mm"},
		{"negative", quantity.FormatLength(-31.26*mm, 4.4*mm, quantity.Metric), "-31.3 ± 4.4 mm"},
		{"no minus zero", quantity.FormatLength(-0.01*mm, 4.4*mm, quantity.Metric), "0.0 ± 4.4 mm"},
		{"inches", quantity.FormatLength(24*quantity.Inch, 0.35*quantity.Inch, quantity.US), "24.00 ± 0.35 in"},
		{"without uncertainty", quantity.FormatLength(612*mm, 0, quantity.Metric), "612.0 mm"},
		{"pressure", quantity.FormatPressure(42e5, 3000, quantity.Metric), "42.000 ± 0.030 bar(a)"},
		{"psia", quantity.FormatPressure(quantity.StandardAtmosphere, 0, quantity.US), "14.7 psia"},
		{"temperature", quantity.FormatTemperature(quantity.FromCelsius(185), 0.5, quantity.Metric), "185.00 ± 0.50 °C"},
		{"fahrenheit", quantity.FormatTemperature(quantity.FromCelsius(100), 0, quantity.US), "212.0 °F"},
		{"temperature difference", quantity.FormatTemperatureDifference(5, 1, quantity.US), "9.0 ± 1.8 °F"},
		{"density", quantity.FormatDensity(851.2, 1.3, quantity.Metric), "851.2 ± 1.3 kg/m³"},
		{"mass", quantity.FormatMass(0.25, 0.002, quantity.Metric), "250.0 ± 2.0 g"},
		{"dp", quantity.FormatPressureDifference(24908.891, 0, quantity.US), "100.00 inH2O(4 °C)"},
		{"not a number", quantity.FormatLength(quantity.Length(math.NaN()), 1, quantity.Metric), "no value"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.got != tt.want {
				t.Errorf("got %q, want %q", tt.got, tt.want)
			}
		})
	}
}

// Whatever the sizes, the shown value is within half a shown digit of the
// true one and the uncertainty keeps two significant digits.
func TestFormatKeepsTwoDigits(t *testing.T) {
	form := regexp.MustCompile(`^(-?[0-9.]+) ± ([0-9.]+) mm$`)
	for exponent := -5.0; exponent < 3; exponent += 0.0173 {
		u := math.Pow(10, exponent) // mm
		value := 1234.56789 / (1 + u)
		text := quantity.FormatLength(quantity.Length(value/1e3), quantity.Length(u/1e3), quantity.Metric)
		parts := form.FindStringSubmatch(text)
		if parts == nil {
			t.Fatalf("u = %v mm: unexpected form %q", u, text)
		}
		shown, _ := strconv.ParseFloat(parts[1], 64)
		spread, _ := strconv.ParseFloat(parts[2], 64)
		if math.Abs(spread-u) > 0.0501*u {
			t.Errorf("u = %v mm shown as %v", u, spread)
		}
		if math.Abs(shown-value) > 0.51*u {
			t.Errorf("value %v mm with u = %v shown as %v", value, u, shown)
		}
	}
}

func TestUnitSets(t *testing.T) {
	for _, set := range []quantity.UnitSet{quantity.Metric, quantity.US} {
		if got, ok := quantity.ParseUnitSet(set.String()); !ok || got != set {
			t.Errorf("%v reads back as %v, %v", set, got, ok)
		}
	}
	if _, ok := quantity.ParseUnitSet("imperial"); ok {
		t.Error(`"imperial" accepted`)
	}
}
