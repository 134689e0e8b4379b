package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ParseError says why a text is not a quantity and what would be accepted.
type ParseError struct {
	Text    string // as written
	Want    Kind
	Problem string // what is wrong, with the remedy where there is one
}

func (e *ParseError) Error() string {
	return fmt.Sprintf("cannot read %q as %s: %s (units: %s; for example %q)",
		e.Text, e.Want, e.Problem, strings.Join(e.Want.accepted(), ", "), kindExamples[e.Want])
}

// accepted is Units with both references for a pressure, because either may
// be written where a pressure is wanted, and with the form of feet and inches.
func (k Kind) accepted() []string {
	switch k {
	case KindPressure:
		return append(KindGaugePressure.Units(), KindPressure.Units()...)
	case KindLength:
		return append(k.Units(), "ft in")
	}
	return k.Units()
}

// ParseLength reads a length: "1.25 m", "850 mm", "33 1/2 in", "3 ft 6 in",
// "3'-6 1/2\"". Negative lengths are elevations below the datum. The error is
// a *ParseError, as with every parser here.
func ParseLength(s string) (Length, error) {
	if strings.ContainsAny(s, "f'′’/") {
		if l, ok, err := parseFeetInches(s); ok || err != nil {
			return l, err
		}
	}
	v, err := Parse(KindLength, s)
	return Length(v), err
}

// ParsePressure reads a pressure with its reference and returns it absolute:
// "42 bar(g)", "300 psia", "101.325 kPa(a)". The reference must be written;
// atmospheric is the pressure at the site that gauge pressures are above.
func ParsePressure(s string, atmospheric Pressure) (Pressure, error) {
	v, err := parsePressure(s, atmospheric)
	return Pressure(v), err
}

func parsePressure(s string, atmospheric Pressure) (float64, error) {
	fail := func(problem string) (float64, error) {
		return 0, &ParseError{Text: s, Want: KindPressure, Problem: problem}
	}
	number, name, problem := splitNumber(s)
	if problem != "" {
		return fail(problem)
	}
	scale, kind, ok := referencedPressure(canonicalUnit(name))
	if !ok {
		return fail(unitProblem(KindPressure, canonicalUnit(name)))
	}
	v := number * scale
	if kind == KindGaugePressure {
		if !(atmospheric > 0) {
			return fail("a gauge pressure needs the atmospheric pressure of the site")
		}
		v += float64(atmospheric)
	}
	if problem := kindProblem(KindPressure, v); problem != "" {
		return fail(problem)
	}
	return v, nil
}

// ParsePressureDifference reads a difference of pressures: "25 kPa",
// "100 inH2O(4 degC)". A column of water or mercury must state its
// temperature, because the unit differs by 0.2 % between the usual ones.
func ParsePressureDifference(s string) (PressureDifference, error) {
	v, err := Parse(KindPressureDifference, s)
	return PressureDifference(v), err
}

// ParseTemperature reads a temperature: "85 degC", "-40 °F", "358 K".
func ParseTemperature(s string) (Temperature, error) {
	v, err := Parse(KindTemperature, s)
	return Temperature(v), err
}

// ParseTemperatureDifference reads a difference: "5 K", "9 degF".
func ParseTemperatureDifference(s string) (TemperatureDifference, error) {
	v, err := Parse(KindTemperatureDifference, s)
	return TemperatureDifference(v), err
}

// ParseDensity reads a density: "850 kg/m3", "0.85 g/cm3", "53 lb/ft3". It
// must be above zero.
func ParseDensity(s string) (Density, error) {
	v, err := Parse(KindDensity, s)
	return Density(v), err
}

// ParseMass reads a mass: "250 g", "0.55 lb". It must not be negative.
func ParseMass(s string) (Mass, error) {
	v, err := Parse(KindMass, s)
	return Mass(v), err
}

// Parse reads a value of any kind into SI units. A pressure is read only with
// its reference "(a)"; use ParsePressure where a gauge pressure may be
// written.
func Parse(want Kind, s string) (float64, error) {
	if want == KindPressure {
		return parsePressure(s, 0)
	}
	fail := func(problem string) (float64, error) { return 0, &ParseError{Text: s, Want: want, Problem: problem} }
	number, name, problem := splitNumber(s)
	if problem != "" {
		return fail(problem)
	}
	scale, offset, err := UnitOf(want, name)
	if err != nil {
		return fail(unitProblem(want, canonicalUnit(name)))
	}
	v := number*scale + offset
	if problem := kindProblem(want, v); problem != "" {
		return fail(problem)
	}
	return v, nil
}

// ParseRange reads a range such as "0..1200 mm" or "0..60 bar(g)" into SI
// units and returns the unit as written. Low may be above high: a signal may
// fall when its quantity rises; they may not be equal.
func ParseRange(want Kind, s string, atmospheric Pressure) (low, high float64, unit string, err error) {
	first, second, found := strings.Cut(s, "..")
	if !found {
		return 0, 0, "", &ParseError{Text: s, Want: want, Problem: `no range: write the ends with ".." between them and the unit once, for example "0..1200 mm"`}
	}
	_, name, problem := splitNumber(second)
	if problem != "" {
		return 0, 0, "", &ParseError{Text: s, Want: want, Problem: "upper end: " + problem}
	}
	one := func(text string) (float64, error) {
		switch want {
		case KindPressure:
			return parsePressure(text, atmospheric)
		default:
			return Parse(want, text)
		}
	}
	if high, err = one(second); err != nil {
		return 0, 0, "", err
	}
	if low, err = one(first + " " + name); err != nil {
		return 0, 0, "", err
	}
	if low == high {
		return 0, 0, "", &ParseError{Text: s, Want: want, Problem: "both ends are the same"}
	}
	return low, high, strings.TrimSpace(name), nil
}

// splitNumber cuts a text into its decimal number and the unit after it.
func splitNumber(s string) (number float64, unit, problem string) {
	s = strings.TrimSpace(s)
	if s == "" {
		return 0, "", "it is empty"
	}
	digits := numberLength(s)
	if digits == 0 {
		return 0, "", "it does not begin with a number"
	}
	number, err := strconv.ParseFloat(strings.Replace(s[:digits], "−", "-", 1), 64)
	if err != nil || math.IsInf(number, 0) {
		return 0, "", "the number is too large"
	}
	unit = strings.TrimSpace(s[digits:])
	if strings.HasPrefix(unit, ",") {
		return 0, "", `a comma in the number: write a decimal point and no thousands separator, for example "1250.5"`
	}
	return number, unit, ""
}

// numberLength returns how many bytes of s are a decimal number with optional
// sign and exponent; 0 when there is none. Words such as NaN or Inf, hex
// digits and underscores are no numbers here.
func numberLength(s string) int {
	n := 0
	for _, sign := range [...]string{"-", "+", "−"} {
		if strings.HasPrefix(s, sign) {
			n = len(sign)
			break
		}
	}
	whole := digitsLength(s[n:])
	n += whole
	fraction := 0
	if strings.HasPrefix(s[n:], ".") {
		fraction = digitsLength(s[n+1:])
		if whole+fraction > 0 {
			n += 1 + fraction
		}
	}
	if whole+fraction == 0 {
		return 0
	}
	return n + exponentLength(s[n:])
}

func exponentLength(s string) int {
	if s == "" || s[0] != 'e' && s[0] != 'E' {
		return 0
	}
	n := 1
	if n < len(s) && (s[n] == '-' || s[n] == '+') {
		n++
	}
	digits := digitsLength(s[n:])
	if digits == 0 {
		return 0
	}
	return n + digits
}

func digitsLength(s string) int {
	n := 0
	for n < len(s) && '0' <= s[n] && s[n] <= '9' {
		n++
	}
	return n
}

// unitProblem says what is wrong with a unit that was not accepted.
func unitProblem(want Kind, canonical string) string {
	if canonical == "" {
		return "it has no unit"
	}
	kind, _, _, known := Unit(canonical)
	switch {
	case want == KindPressure && known && kind == KindPressureDifference:
		return fmt.Sprintf(`%q does not say against what: write "(g)" for gauge or "(a)" for absolute after the unit`, canonical)
	case (want == KindPressureDifference) && (kind == KindPressure || kind == KindGaugePressure):
		return "a difference of pressures has no reference: leave out the (a) or (g)"
	case columnWithoutTemperature(canonical):
		return fmt.Sprintf(`a column of liquid must state its temperature, for example "%s(4 degC)", "%[1]s(60 degF)" or "%[1]s(20 degC)" for water`, canonical)
	case known:
		return fmt.Sprintf("%q is a unit of %s", canonical, kind)
	}
	if canonical[0] >= '0' && canonical[0] <= '9' {
		return `a number is written without spaces, for example "1250.5"`
	}
	if name := otherCase(want, canonical); name != "" {
		return fmt.Sprintf("unknown unit %q: write %q, capitals matter", canonical, name)
	}
	return fmt.Sprintf("unknown unit %q", canonical)
}

func columnWithoutTemperature(canonical string) bool {
	switch canonical {
	case "inH2O", "mmH2O", "inHg", "mmHg", "inWC", "mmWC":
		return true
	}
	return false
}

func otherCase(want Kind, canonical string) string {
	for _, name := range want.accepted() {
		if strings.EqualFold(strings.ReplaceAll(name, " ", ""), canonical) {
			return name
		}
	}
	return ""
}

// kindProblem says why a value is impossible for its kind.
func kindProblem(k Kind, v float64) string {
	switch {
	case math.IsInf(v, 0) || math.IsNaN(v):
		return "the number is too large"
	case k == KindTemperature && v < 0:
		return "it is below absolute zero"
	case k == KindPressure && v < 0:
		return "it is below a perfect vacuum"
	case k == KindDensity && v <= 0:
		return "it must be above zero"
	case (k == KindMass || k == KindArea || k == KindMolarMass) && v < 0:
		return "it must not be negative"
	}
	return ""
}
