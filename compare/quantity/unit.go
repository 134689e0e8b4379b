package quantity

import "strings"

// Kind is what a number with a unit measures.
type Kind uint8

// The kinds a unit can belong to. A gauge pressure is a kind of its own: it
// becomes a Pressure only together with the atmospheric pressure of the site.
const (
	NoKind Kind = iota
	KindLength
	KindPressure      // absolute
	KindGaugePressure // above atmospheric
	KindPressureDifference
	KindTemperature
	KindTemperatureDifference
	KindDensity
	KindMass
	KindArea
	KindForce
	KindMolarMass
	KindPerTemperature // thermal expansion
	KindPerPressure    // compressibility
	KindRatio
	kinds // number of kinds
)

var kindNames = [kinds]string{
	"", "length", "absolute pressure", "gauge pressure", "pressure difference", "temperature",
	"temperature difference", "density", "mass", "area", "force", "molar mass", "thermal expansion",
	"compressibility", "ratio",
}

func (k Kind) String() string {
	if k < kinds {
		return kindNames[k]
	}
	return "unknown kind"
}

// kindExamples show how a value of the kind is written.
var kindExamples = [kinds]string{
	"", "1.25 m", "42 bar(a)", "42 bar(g)", "25 kPa", "-40 degF", "5 K", "850 kg/m3", "250 g",
	"12.5 cm2", "9.8 N", "28.97 g/mol", "0.0008 1/K", "8e-10 1/Pa", "2.5 %",
}

// unit is one row of the unit table: SI value = number * scale + offset.
type unit struct {
	kind   Kind
	name   string // as listed in messages
	also   string // other accepted spellings, separated by spaces
	scale  float64
	offset float64
}

// Defined factors (exact unless a comment says otherwise).
const (
	pound          = 0.45359237 // kg, international avoirdupois pound, 1959
	psi            = pound * StandardGravity / (float64(Inch) * float64(Inch))
	kgPerCm2       = 98066.5                          // Pa
	degF           = 1 / 1.8                          // K
	mmWater        = 9.80665                          // Pa, conventional: water of 1000 kg/m3 ("4 degC")
	inWater        = 249.08891                        // Pa, 25.4 mm of the same
	inWater60F     = 248.84                           // Pa (NIST SP 811:2008, B.8)
	inWater20C     = 248.641                          // Pa, common practice: water of 998.2 kg/m3
	mmMercury      = 13595.1 * StandardGravity * 1e-3 // Pa, conventional millimetre of mercury
	poundPerFt3    = pound / (float64(Foot) * float64(Foot) * float64(Foot))
	poundPerGallon = pound / 3.785411784e-3 // US gallon of 231 cubic inches
)

// units lists every accepted unit. Within a kind the order is that of the
// messages: the usual ones first.
var units = [...]unit{
	{KindLength, "mm", "", 1e-3, 0},
	{KindLength, "cm", "", 1e-2, 0},
	{KindLength, "m", "", 1, 0},
	{KindLength, "in", `inch inches "`, float64(Inch), 0},
	{KindLength, "ft", "foot feet '", float64(Foot), 0},

	{KindPressureDifference, "bar", "", 1e5, 0},
	{KindPressureDifference, "mbar", "", 1e2, 0},
	{KindPressureDifference, "kPa", "", 1e3, 0},
	{KindPressureDifference, "MPa", "", 1e6, 0},
	{KindPressureDifference, "Pa", "", 1, 0},
	{KindPressureDifference, "psi", "", psi, 0},
	{KindPressureDifference, "kg/cm2", "kgf/cm2", kgPerCm2, 0},
	{KindPressureDifference, "atm", "", float64(StandardAtmosphere), 0},
	{KindPressureDifference, "inH2O(4 degC)", "inH2O(39.2degF)", inWater, 0},
	{KindPressureDifference, "inH2O(60 degF)", "", inWater60F, 0},
	{KindPressureDifference, "inH2O(20 degC)", "inH2O(68degF)", inWater20C, 0},
	{KindPressureDifference, "mmH2O(4 degC)", "mmH2O(39.2degF)", mmWater, 0},
	{KindPressureDifference, "mmH2O(60 degF)", "", inWater60F / 25.4, 0},
	{KindPressureDifference, "mmH2O(20 degC)", "mmH2O(68degF)", inWater20C / 25.4, 0},
	{KindPressureDifference, "mmHg(0 degC)", "mmHg(32degF)", mmMercury, 0},
	{KindPressureDifference, "inHg(0 degC)", "inHg(32degF)", 25.4 * mmMercury, 0},

	{KindTemperature, "degC", "C", 1, float64(ZeroCelsius)},
	{KindTemperature, "degF", "F", degF, 459.67 / 1.8},
	{KindTemperature, "K", "", 1, 0},
	{KindTemperature, "degR", "R", degF, 0},

	{KindTemperatureDifference, "K", "", 1, 0},
	{KindTemperatureDifference, "degC", "C", 1, 0},
	{KindTemperatureDifference, "degF", "F", degF, 0},

	{KindDensity, "kg/m3", "", 1, 0},
	{KindDensity, "g/cm3", "g/ml g/mL", 1e3, 0},
	{KindDensity, "kg/L", "kg/l kg/dm3 t/m3", 1e3, 0},
	{KindDensity, "lb/ft3", "", poundPerFt3, 0},
	{KindDensity, "lb/gal(US)", "", poundPerGallon, 0},

	{KindMass, "g", "", 1e-3, 0},
	{KindMass, "kg", "", 1, 0},
	{KindMass, "lb", "lbs", pound, 0},
	{KindMass, "oz", "", pound / 16, 0},

	{KindArea, "mm2", "", 1e-6, 0},
	{KindArea, "cm2", "", 1e-4, 0},
	{KindArea, "m2", "", 1, 0},
	{KindArea, "in2", "", float64(Inch) * float64(Inch), 0},

	{KindForce, "N", "", 1, 0},
	{KindForce, "kgf", "", StandardGravity, 0},
	{KindForce, "gf", "", StandardGravity * 1e-3, 0},
	{KindForce, "lbf", "", pound * StandardGravity, 0},

	{KindMolarMass, "g/mol", "kg/kmol lb/lbmol", 1e-3, 0},
	{KindMolarMass, "kg/mol", "", 1, 0},

	{KindPerTemperature, "1/K", "1/degC 1/C", 1, 0},
	{KindPerTemperature, "1/degF", "1/F", 1.8, 0},

	{KindPerPressure, "1/Pa", "", 1, 0},
	{KindPerPressure, "1/bar", "", 1e-5, 0},
	{KindPerPressure, "1/MPa", "", 1e-6, 0},
	{KindPerPressure, "1/psi", "", 1 / psi, 0},

	{KindRatio, "%", "percent", 1e-2, 0},
	{KindRatio, "1", "", 1, 0},
}

// Units lists the accepted units of a kind, the usual ones first. For the two
// pressures the reference is part of the unit.
func (k Kind) Units() []string {
	switch k {
	case KindPressure:
		return pressureUnits("(a)")
	case KindGaugePressure:
		return pressureUnits("(g)")
	}
	var names []string
	for i := range units {
		if units[i].kind == k {
			names = append(names, units[i].name)
		}
	}
	return names
}

func pressureUnits(reference string) []string {
	names := make([]string, len(pressureBases))
	for i, base := range pressureBases {
		names[i] = base + reference
	}
	return names
}

// pressureBases are the units that take a reference, "(a)" or "(g)".
var pressureBases = [...]string{"bar", "mbar", "kPa", "MPa", "Pa", "psi", "kg/cm2", "atm"}

// Unit finds what a unit measures: SI value = number * scale + offset. A bare
// temperature unit is a temperature, not a difference; a bare pressure unit is
// a difference; a gauge pressure still lacks the atmospheric pressure.
func Unit(name string) (kind Kind, scale, offset float64, ok bool) {
	canonical := canonicalUnit(name)
	for i := range units {
		if units[i].matches(canonical) {
			u := &units[i]
			return u.kind, u.scale, u.offset, true
		}
	}
	if scale, kind, ok := referencedPressure(canonical); ok {
		return kind, scale, 0, true
	}
	return NoKind, 0, 0, false
}

// UnitOf finds a unit among those of one kind. The error is a *ParseError.
func UnitOf(want Kind, name string) (scale, offset float64, err error) {
	canonical := canonicalUnit(name)
	if want == KindPressure || want == KindGaugePressure {
		scale, kind, ok := referencedPressure(canonical)
		if !ok || kind != want {
			return 0, 0, &ParseError{Text: name, Want: want, Problem: unitProblem(want, canonical)}
		}
		return scale, 0, nil
	}
	for i := range units {
		if units[i].kind == want && units[i].matches(canonical) {
			return units[i].scale, units[i].offset, nil
		}
	}
	return 0, 0, &ParseError{Text: name, Want: want, Problem: unitProblem(want, canonical)}
}

func (u *unit) matches(canonical string) bool {
	if canonical == "" {
		return false
	}
	if strings.ReplaceAll(u.name, " ", "") == canonical {
		return true
	}
	for rest := u.also; rest != ""; {
		var name string
		name, rest, _ = strings.Cut(rest, " ")
		if name == canonical {
			return true
		}
	}
	return false
}

// referencedPressure reads a pressure unit with its reference: "bar(g)",
// "barg", "psia", "kg/cm2(a)".
func referencedPressure(canonical string) (scale float64, kind Kind, ok bool) {
	base, kind := splitReference(canonical)
	if kind == NoKind {
		return 0, NoKind, false
	}
	for _, name := range pressureBases {
		if name == base || name == "kg/cm2" && base == "kgf/cm2" {
			_, scale, _, _ = Unit(name)
			return scale, kind, true
		}
	}
	return 0, NoKind, false
}

func splitReference(canonical string) (base string, kind Kind) {
	for _, r := range [...]struct {
		suffix string
		kind   Kind
	}{
		{"(a)", KindPressure}, {"(abs)", KindPressure}, {"a", KindPressure},
		{"(g)", KindGaugePressure}, {"(gauge)", KindGaugePressure}, {"g", KindGaugePressure},
	} {
		if base, found := strings.CutSuffix(canonical, r.suffix); found && base != "P" && base != "kP" && base != "MP" {
			return base, r.kind
		}
	}
	return canonical, NoKind
}

// canonicalUnit removes spaces and replaces typographic signs by the plain
// ones of the unit table.
func canonicalUnit(name string) string { return unitSigns.Replace(name) }

var unitSigns = strings.NewReplacer(
	" ", "", "\t", "", "\u00a0", "", "\u202f", "", "\u2009", "",
	"°", "deg", "º", "deg", "℃", "degC", "℉", "degF",
	"²", "2", "³", "3", "^2", "2", "^3", "3", "₂", "2",
	"′", "'", "’", "'", "″", `"`, "”", `"`,
)
