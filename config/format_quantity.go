package config

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bridlewatch/compare/quantity"
)

// measured is a value with its unit, of one kind of quantity. It is printed
// in the unit people are used to.
func measured[F ~float64](kind quantity.Kind, unit string) format[F] {
	return format[F]{
		name:  fmt.Sprintf("%s with its unit: %s", strings.TrimPrefix(kind.String(), "absolute "), strings.Join(unitsOf(kind), ", ")),
		types: []string{"string"},
		read: func(d *decoder, s string) (F, error) {
			v, err := d.measure(kind, s)
			return F(v), err
		},
		print: func(v F) any { return inUnit(kind, unit, float64(v)) },
	}
}

// inUnit writes an SI value in a unit.
func inUnit(kind quantity.Kind, unit string, v float64) string {
	scale, offset, err := quantity.UnitOf(kind, unit)
	if err != nil {
		return short(v)
	}
	return short((v-offset)/scale) + " " + unit
}

// short writes a number with at most 12 significant digits, so that what a
// change of units did to the last bits is not shown.
func short(v float64) string {
	rounded := roundTo12(v)
	if rounded == 0 {
		return "0"
	}
	if a := math.Abs(rounded); a >= 1e-4 && a < 1e12 {
		return strconv.FormatFloat(rounded, 'f', -1, 64)
	}
	return strconv.FormatFloat(rounded, 'g', -1, 64)
}

func roundTo12(v float64) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	if err != nil {
		return v
	}
	return rounded
}

// plain is a number as YAML would write it by hand: 2 rather than 2.0.
func plain(v float64) any {
	v = roundTo12(v)
	if v == math.Trunc(v) && math.Abs(v) < 1e15 {
		return int64(v)
	}
	return v
}

func length() format[quantity.Length] {
	return measured[quantity.Length](quantity.KindLength, "mm")
}
func pressure() format[quantity.Pressure] {
	return measured[quantity.Pressure](quantity.KindPressure, "bar(a)")
}

// airPressure is the atmospheric pressure itself, from above the highest
// plants to the deepest low at sea level.
func airPressure() format[quantity.Pressure] {
	f := pressure()
	f.name = "absolute pressure with its unit: " + strings.Join(quantity.KindPressure.Units(), ", ")
	f.read = func(_ *decoder, s string) (quantity.Pressure, error) {
		v, err := quantity.ParsePressure(s, quantity.StandardAtmosphere)
		if _, absolute := quantity.Parse(quantity.KindPressure, s); err == nil && absolute != nil {
			return 0, fmt.Errorf("%s: the pressure of the air itself is absolute, for example 1.01325 bar(a)", s)
		}
		if err == nil && (v < 50e3 || v > 110e3) {
			err = fmt.Errorf("%s is not the pressure of the air: 0.5 to 1.1 bar(a)", s)
		}
		return v, err
	}
	return f
}

func pressureDifference() format[quantity.PressureDifference] {
	return measured[quantity.PressureDifference](quantity.KindPressureDifference, "mbar")
}
func temperature() format[quantity.Temperature] {
	return measured[quantity.Temperature](quantity.KindTemperature, "degC")
}
func temperatureDifference() format[quantity.TemperatureDifference] {
	return measured[quantity.TemperatureDifference](quantity.KindTemperatureDifference, "K")
}
func density() format[quantity.Density] {
	return measured[quantity.Density](quantity.KindDensity, "kg/m3")
}
func mass() format[quantity.Mass] { return measured[quantity.Mass](quantity.KindMass, "g") }

// fraction is a share, written "0.3 %" or 0.003.
func fraction(most float64) format[float64] {
	return format[float64]{
		name:  "share, for example 0.3 %",
		types: []string{"string", "number"},
		read: func(d *decoder, s string) (float64, error) {
			v, err := readNumber(s)
			if err != nil {
				if v, err = d.measure(quantity.KindRatio, s); err != nil {
					return 0, err
				}
			}
			if v < 0 || v > most {
				return 0, fmt.Errorf("%s is outside 0 to %s %%", s, short(most*100))
			}
			return v, nil
		},
		print: func(v float64) any { return short(v*100) + " %" },
	}
}

// span is a range with its unit, "0..1200 mm", low end first.
func span[F ~float64](kind quantity.Kind, unit string) format[[2]F] {
	return format[[2]F]{
		name:  "range of " + kind.String() + `, for example "0..1200 ` + unit + `"`,
		types: []string{"string"},
		read: func(d *decoder, s string) ([2]F, error) {
			low, high, _, err := quantity.ParseRange(kind, s, d.atmosphere)
			if err == nil && low > high {
				err = fmt.Errorf("%q: write the lower end first", s)
			}
			return [2]F{F(low), F(high)}, err
		},
		print: func(v [2]F) any {
			low, _, _ := strings.Cut(inUnit(kind, unit, float64(v[0])), " ")
			return low + ".." + inUnit(kind, unit, float64(v[1]))
		},
	}
}

// plainSpan is a range of plain numbers, "0.65..0.85".
func plainSpan() format[[2]float64] {
	return format[[2]float64]{
		name:  `range, for example "0.65..0.85"`,
		types: []string{"string"},
		read: func(_ *decoder, s string) ([2]float64, error) {
			first, second, found := strings.Cut(s, "..")
			low, err := readNumber(strings.TrimSpace(first))
			high, err2 := readNumber(strings.TrimSpace(second))
			if !found || err != nil || err2 != nil {
				return [2]float64{}, fmt.Errorf(`%q is not a range such as "0.65..0.85"`, s)
			}
			if low > high {
				return [2]float64{}, fmt.Errorf("%q: write the lower end first", s)
			}
			return [2]float64{low, high}, nil
		},
		print: func(v [2]float64) any { return short(v[0]) + ".." + short(v[1]) },
	}
}

func unitSet() format[quantity.UnitSet] {
	return format[quantity.UnitSet]{
		name:  "one of metric, us",
		types: []string{"string"},
		read: func(_ *decoder, s string) (quantity.UnitSet, error) {
			set, ok := quantity.ParseUnitSet(s)
			if !ok {
				return set, fmt.Errorf("%q is not one of metric, us", s)
			}
			return set, nil
		},
		print: func(u quantity.UnitSet) any { return u.String() },
	}
}

func driftLimit() format[driftForm] {
	return format[driftForm]{
		name:  "length, or share of the centre-to-centre distance: 25 mm, 2 %",
		types: []string{"string"},
		read: func(d *decoder, s string) (driftForm, error) {
			if share, err := d.measure(quantity.KindRatio, s); err == nil && share > 0 && share <= 1 {
				return driftForm{Share: share}, nil
			}
			l, err := d.measure(quantity.KindLength, s)
			return driftForm{Length: quantity.Length(l)}, err
		},
		print: func(f driftForm) any {
			if f.Share > 0 {
				return short(f.Share*100) + " %"
			}
			return inUnit(quantity.KindLength, "mm", float64(f.Length))
		},
	}
}
