package quantity

import (
	"math"
	"strconv"
)

// UnitSet says in which units people are shown values.
type UnitSet uint8

// Unit sets.
const (
	Metric UnitSet = iota // mm, bar, °C, kg/m3
	US                    // in, psi, °F, lb/ft3
)

func (s UnitSet) String() string {
	if s == US {
		return "us"
	}
	return "metric"
}

// ParseUnitSet reads "metric" or "us".
func ParseUnitSet(s string) (UnitSet, bool) {
	switch s {
	case "metric":
		return Metric, true
	case "us":
		return US, true
	}
	return Metric, false
}

// shown is how a kind is shown in a unit set: shown = (SI - offset) / scale.
type shown struct {
	unit     string
	scale    float64
	offset   float64
	decimals int // where no uncertainty is known
}

var (
	shownLength                = [...]shown{{"mm", 1e-3, 0, 1}, {"in", float64(Inch), 0, 2}}
	shownPressure              = [...]shown{{"bar(a)", 1e5, 0, 2}, {"psia", psi, 0, 1}}
	shownPressureDifference    = [...]shown{{"mbar", 1e2, 0, 2}, {"inH2O(4 °C)", inWater, 0, 2}}
	shownTemperature           = [...]shown{{"°C", 1, float64(ZeroCelsius), 1}, {"°F", degF, 459.67 / 1.8, 1}}
	shownTemperatureDifference = [...]shown{{"K", 1, 0, 1}, {"°F", degF, 0, 1}}
	shownDensity               = [...]shown{{"kg/m³", 1, 0, 1}, {"lb/ft³", poundPerFt3, 0, 2}}
	shownMass                  = [...]shown{{"g", 1e-3, 0, 1}, {"lb", pound, 0, 3}}
)

// FormatLength writes a length, "612.0 ± 9.0 mm". As in all of these the
// standard or expanded uncertainty is given with two significant digits and
// the value to the same place (JCGM 100:2008, 7.2.6); u = 0 leaves it out.
func FormatLength(v, u Length, set UnitSet) string {
	return shownLength[set].format(float64(v), float64(u))
}

// FormatPressure writes an absolute pressure, "42.00 bar(a)".
func FormatPressure(v Pressure, u PressureDifference, set UnitSet) string {
	return shownPressure[set].format(float64(v), float64(u))
}

// FormatPressureDifference writes a difference of pressures, "251.30 mbar".
func FormatPressureDifference(v, u PressureDifference, set UnitSet) string {
	return shownPressureDifference[set].format(float64(v), float64(u))
}

// FormatTemperature writes a temperature, "185.0 °C".
func FormatTemperature(v Temperature, u TemperatureDifference, set UnitSet) string {
	return shownTemperature[set].format(float64(v), float64(u))
}

// FormatTemperatureDifference writes a difference, "12.0 K".
func FormatTemperatureDifference(v, u TemperatureDifference, set UnitSet) string {
	return shownTemperatureDifference[set].format(float64(v), float64(u))
}

// FormatDensity writes a density, "851.2 ± 1.3 kg/m³".
func FormatDensity(v, u Density, set UnitSet) string {
	return shownDensity[set].format(float64(v), float64(u))
}

// FormatMass writes a mass, "250.0 g".
func FormatMass(v, u Mass, set UnitSet) string {
	return shownMass[set].format(float64(v), float64(u))
}

func (s *shown) format(v, u float64) string {
	value, spread := (v-s.offset)/s.scale, math.Abs(u/s.scale)
	if !finite(value) || !finite(spread) {
		return "no value"
	}
	if spread == 0 {
		return fixed(value, s.decimals) + " " + s.unit
	}
	decimals := twoDigits(spread)
	return fixed(value, decimals) + " ± " + fixed(spread, decimals) + " " + s.unit
}

// twoDigits returns the decimals at which u shows two significant digits; it
// is negative for an uncertainty of a hundred and more. An uncertainty that
// rounds up to the next power of ten (9.96 to 10) is one place shorter.
func twoDigits(u float64) int {
	decimals := 1 - int(math.Floor(math.Log10(u)))
	if math.Round(scale10(u, decimals)) >= 100 {
		decimals--
	}
	return min(decimals, 9)
}

// fixed writes v with a number of decimals; negative ones round to tens,
// hundreds and so on. Minus zero is written as zero.
func fixed(v float64, decimals int) string {
	if decimals < 0 {
		v = scale10(math.Round(scale10(v, decimals)), -decimals)
		decimals = 0
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if zero, err := strconv.ParseFloat(text, 64); err == nil && zero == 0 && text[0] == '-' {
		return text[1:]
	}
	return text
}

func scale10(v float64, places int) float64 { return v * math.Pow10(places) }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
