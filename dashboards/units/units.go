// Package units writes SI quantities for people: in the set of units the
// reader chose, rounded once, with a true minus sign and a space that does
// not break between number and unit. Nothing is computed in these units.
//
// Pressures are always written as absolute, because that is what is stored.
package units

import (
	"math"
	"strconv"
	"strings"

	"bridlewatch/compare/quantity"
)

// Set is one choice of units.
type Set struct {
	Name   string // as it stands in an address: "?units=us"
	Title  string // as it stands in a list
	length unit
	press  unit
	temp   unit
	dens   unit
}

// unit is a linear scale: shown = (SI - zero) / factor.
type unit struct {
	symbol string
	factor float64
	zero   float64
	digits int // after the point, where no uncertainty says otherwise
}

// The sets.
var (
	Metric = Set{"metric", "mm, bar, °C", millimetre, bar, celsius, kgPerM3}
	SI     = Set{"si", "mm, kPa, °C", millimetre, kilopascal, celsius, kgPerM3}
	US     = Set{"us", "in, psi, °F", inch, psi, fahrenheit, poundPerFt3}

	millimetre  = named("mm", "mm", 0)
	inch        = named("in", "in", 2)
	bar         = named("bar(a)", "bar(a)", 2)
	kilopascal  = named("kPa(a)", "kPa(a)", 0)
	psi         = named("psi(a)", "psi(a)", 1)
	celsius     = named("degC", "°C", 1)
	fahrenheit  = named("degF", "°F", 1)
	kgPerM3     = named("kg/m3", "kg/m³", 1)
	poundPerFt3 = named("lb/ft3", "lb/ft³", 2)
)

// named takes a unit from the table of package quantity, so that what is read
// and what is shown can never differ.
func named(name, symbol string, digits int) unit {
	_, scale, offset, ok := quantity.Unit(name)
	if !ok {
		panic("package quantity has no unit " + name) // the names are constants of this file
	}
	return unit{symbol, scale, offset, digits}
}

// Sets lists the choices in the order they are offered.
func Sets() []Set { return []Set{Metric, SI, US} }

// Named returns the set of that name and whether there is one.
func Named(name string) (Set, bool) {
	for _, s := range Sets() {
		if s.Name == name {
			return s, true
		}
	}
	return Metric, false
}

// NoBreak is the space between a number and its unit.
const NoBreak = "\u00a0"

const minus = "\u2212"

// LengthSymbol returns the unit lengths are written in.
func (s Set) LengthSymbol() string { return s.length.symbol }

// LengthFactor returns the metres in one unit of length.
func (s Set) LengthFactor() float64 { return s.length.factor }

// DensitySymbol returns the unit densities are written in.
func (s Set) DensitySymbol() string { return s.dens.symbol }

// DensityFactor returns the kilograms per cubic metre in one unit of density.
func (s Set) DensityFactor() float64 { return s.dens.factor }

// Length writes a length with the digits of a reading: "612 mm", "24.09 in".
func (s Set) Length(l quantity.Length) string { return s.length.write(float64(l)) }

// LengthNumber writes a length without its unit.
func (s Set) LengthNumber(l quantity.Length) string {
	return Fixed(s.length.shown(float64(l)), s.length.digits)
}

// LengthFine writes a length to one more digit: a gap, a budget, a rate.
func (s Set) LengthFine(l quantity.Length) string {
	return Fixed(s.length.shown(float64(l)), s.length.digits+1) + NoBreak + s.length.symbol
}

// Signed writes a gap with its sign.
func (s Set) Signed(l quantity.Length) string {
	text := s.LengthFine(l)
	if !strings.HasPrefix(text, minus) && strings.Trim(text, "0.\u00a0"+s.length.symbol) != "" {
		return "+" + text
	}
	return text
}

// LengthWith writes a length and its expanded uncertainty (k = 2), the
// uncertainty to two significant digits and the length to the same place.
func (s Set) LengthWith(l, u quantity.Length) string {
	value, half := Rounded(s.length.shown(float64(l)), 2*float64(u)/s.length.factor)
	if half == "" {
		return s.Length(l)
	}
	return value + NoBreak + "±" + NoBreak + half + NoBreak + s.length.symbol
}

// Pressure writes an absolute pressure.
func (s Set) Pressure(p quantity.Pressure) string { return s.press.write(float64(p)) }

// Temperature writes a temperature.
func (s Set) Temperature(t quantity.Temperature) string { return s.temp.write(float64(t)) }

// Density writes a density, one below 1 with two significant digits.
func (s Set) Density(d quantity.Density) string {
	if v := s.dens.shown(float64(d)); v > 0 && v < 1 {
		return Significant(v, 2) + NoBreak + s.dens.symbol
	}
	return s.dens.write(float64(d))
}

// DensityWith writes a density and its expanded uncertainty (k = 2).
func (s Set) DensityWith(d, u quantity.Density) string {
	value, half := Rounded(s.dens.shown(float64(d)), 2*float64(u)/s.dens.factor)
	if half == "" {
		return s.Density(d)
	}
	return value + NoBreak + "±" + NoBreak + half + NoBreak + s.dens.symbol
}

// Elevation writes a plant elevation: metres with millimetres, or feet.
func (s Set) Elevation(el quantity.Length) string {
	if s.length == inch {
		return Fixed(float64(el/quantity.Foot), 2) + NoBreak + "ft"
	}
	return Fixed(float64(el), 3) + NoBreak + "m"
}

// SIValue writes a converted reading by its SI unit, "0" and "1" of a contact as words.
func (s Set) SIValue(value float64, unit string) string {
	switch unit {
	case "m":
		return s.Length(quantity.Length(value))
	case "Pa":
		return Fixed(value/1e3, 2) + NoBreak + "kPa"
	case "K":
		return s.Temperature(quantity.Temperature(value))
	case "kg/m3":
		return s.Density(quantity.Density(value))
	case "":
		return map[bool]string{true: "wet", false: "dry"}[value != 0]
	}
	return Significant(value, 4) + NoBreak + unit
}

// Raw writes a value as a device gave it: no more than six significant
// digits, no zeros that say nothing.
func Raw(v float64, unit string) string {
	text := Significant(v, 6)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if written, ok := map[string]string{"degC": "°C", "degF": "°F", "kg/m3": "kg/m³"}[unit]; ok {
		unit = written
	}
	if unit == "" {
		return text
	}
	return text + NoBreak + unit
}

func (u unit) shown(si float64) float64 { return (si - u.zero) / u.factor }

func (u unit) write(si float64) string {
	return Fixed(u.shown(si), u.digits) + NoBreak + u.symbol
}

// Chance writes a probability. Nothing that is weighed is certain, and nothing
// that is listed is out of the question.
func Chance(p float64) string {
	switch {
	case p < 0.01:
		return "under" + NoBreak + "1" + NoBreak + "%"
	case p > 0.99:
		return "over" + NoBreak + "99" + NoBreak + "%"
	}
	return Fixed(100*p, 0) + NoBreak + "%"
}

// Fixed writes a number with a fixed count of decimals and a true minus;
// what rounds to zero has no sign.
func Fixed(v float64, digits int) string {
	text := strconv.FormatFloat(v, 'f', max(0, digits), 64)
	if strings.HasPrefix(text, "-") {
		if strings.Trim(text, "-0.") == "" {
			return text[1:]
		}
		return minus + text[1:]
	}
	return text
}

// Significant writes a number to a count of significant digits.
func Significant(v float64, digits int) string {
	return Fixed(v, digits-1-magnitude(v))
}

// Rounded writes a value and its uncertainty, the uncertainty to two
// significant digits and the value to the same place. Without an uncertainty
// half is empty.
func Rounded(v, u float64) (value, half string) {
	if u <= 0 || math.IsNaN(u) || math.IsInf(u, 0) {
		return "", ""
	}
	digits := 1 - magnitude(u)
	if digits < 0 { // 12 mm stands for 120 to the nearest ten: round, do not write decimals
		step := math.Pow10(-digits)
		return Fixed(math.Round(v/step)*step, 0), Fixed(math.Round(u/step)*step, 0)
	}
	return Fixed(v, digits), Fixed(u, digits)
}

// magnitude is the power of ten of the leading digit after rounding to two
// significant digits, so that 9.96 counts as 10.
func magnitude(v float64) int {
	if v == 0 {
		return 0
	}
	m := int(math.Floor(math.Log10(math.Abs(v))))
	if math.Round(math.Abs(v)/math.Pow10(m-1)) >= 100 {
		m++
	}
	return m
}
