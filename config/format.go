package config

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"bridlewatch/compare/quantity"
)

// format says how one kind of value is written in a configuration: how it is
// read, how it is printed back, and what an editor should be told about it.
type format[F any] struct {
	name  string // for people: "length, for example 850 mm"
	types []string
	hints map[string]any // further JSON Schema keywords
	read  func(d *decoder, text string) (F, error)
	print func(F) any
}

// quoted and printed forms.
var (
	textTypes   = []string{"string", "number", "boolean"} // YAML lets a tag like 101 go without quotes
	numberTypes = []string{"number"}
)

func asText() format[string] {
	return format[string]{
		name:  "text",
		types: textTypes,
		read:  func(_ *decoder, s string) (string, error) { return s, nil },
		print: func(s string) any { return s },
	}
}

// words is text out of a fixed list.
func words[F ~string](allowed ...F) format[F] {
	list := make([]string, len(allowed))
	for i, w := range allowed {
		list[i] = string(w)
	}
	return format[F]{
		name:  "one of " + strings.Join(list, ", "),
		types: []string{"string"},
		read: func(_ *decoder, s string) (F, error) {
			for _, w := range allowed {
				if s == string(w) {
					return w, nil
				}
			}
			return "", fmt.Errorf("%q is not one of %s%s", s, strings.Join(list, ", "), didYouMean(s, list))
		},
		print: func(w F) any { return string(w) },
	}
}

func yesNo() format[bool] {
	return format[bool]{
		name:  "true or false",
		types: []string{"boolean"},
		read: func(_ *decoder, s string) (bool, error) {
			switch s {
			case "true":
				return true, nil
			case "false":
				return false, nil
			}
			return false, fmt.Errorf("%q is not true or false", s)
		},
		print: func(b bool) any { return b },
	}
}

// number is a plain decimal number between two bounds, both included.
func number(low, high float64) format[float64] {
	return format[float64]{
		name:  "number" + between(low, high),
		types: numberTypes,
		hints: map[string]any{"minimum": low, "maximum": high},
		read: func(_ *decoder, s string) (float64, error) {
			v, err := readNumber(s)
			if err != nil {
				return 0, err
			}
			if !(v >= low && v <= high) {
				return 0, fmt.Errorf("%s is outside %s to %s", s, short(low), short(high))
			}
			return v, nil
		},
		print: func(v float64) any { return plain(v) },
	}
}

func readNumber(s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(s, "xX_pP") {
		return 0, fmt.Errorf("%q is not a number", s)
	}
	return v, nil
}

// integer is a whole number, decimal or hexadecimal with 0x, between two
// bounds, both included.
func integer(low, high int) format[int] {
	return format[int]{
		name:  "whole number" + between(float64(low), float64(high)),
		types: []string{"integer"},
		hints: map[string]any{"minimum": low, "maximum": high},
		read: func(_ *decoder, s string) (int, error) {
			v, err := readInteger(s)
			if err != nil {
				return 0, err
			}
			if v < int64(low) || v > int64(high) {
				return 0, fmt.Errorf("%s is outside %d to %d", s, low, high)
			}
			return int(v), nil
		},
		print: func(v int) any { return v },
	}
}

func readInteger(s string) (int64, error) {
	digits, base := s, 10
	if hex, found := strings.CutPrefix(strings.ToLower(s), "0x"); found {
		digits, base = hex, 16
	} else if plain := strings.TrimLeft(s, "+-"); len(plain) > 1 && plain[0] == '0' {
		return 0, fmt.Errorf("%q begins with 0: write it without, octal numbers are not used here", s)
	}
	v, err := strconv.ParseInt(digits, base, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a whole number", s)
	}
	return v, nil
}

func between(low, high float64) string {
	switch {
	case math.IsInf(low, -1) && math.IsInf(high, 1):
		return ""
	case math.IsInf(high, 1):
		return ", at least " + short(low)
	}
	return fmt.Sprintf(", %s to %s", short(low), short(high))
}

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

// pieces of time, longest first. A year is 365 days.
var timeUnits = []struct {
	names []string
	d     time.Duration
}{
	{[]string{"years", "year", "a"}, 365 * 24 * time.Hour},
	{[]string{"weeks", "week"}, 7 * 24 * time.Hour},
	{[]string{"days", "day", "d"}, 24 * time.Hour},
	{[]string{"h", "hours", "hour"}, time.Hour},
	{[]string{"min", "minutes", "minute", "m"}, time.Minute},
	{[]string{"s", "seconds", "second"}, time.Second},
	{[]string{"ms"}, time.Millisecond},
}

var errDuration = errors.New(`a duration is a number with its unit: "250 ms", "10 s", "5 min", "3 h", "400 days", "10 years"`)

// duration is a length of time between two bounds, both included. "for ever"
// is 0 where the bound allows it.
func duration(low, high time.Duration) format[time.Duration] {
	return format[time.Duration]{
		name:  fmt.Sprintf("duration, %s to %s", printDuration(low), printDuration(high)),
		types: []string{"string"},
		read: func(_ *decoder, s string) (time.Duration, error) {
			v, err := readDuration(s)
			if err != nil {
				return 0, err
			}
			if v < low || v > high {
				return 0, fmt.Errorf("%s is outside %s to %s", s, printDuration(low), printDuration(high))
			}
			return v, nil
		},
		print: func(v time.Duration) any { return printDuration(v) },
	}
}

// keep is how long history is kept: a duration or "for ever".
func keep() format[time.Duration] {
	f := duration(24*time.Hour, 200*365*24*time.Hour)
	f.name = `duration, at least 1 day, or "for ever"`
	bounded := f.read
	f.read = func(d *decoder, s string) (time.Duration, error) {
		if s == "for ever" {
			return 0, nil
		}
		return bounded(d, s)
	}
	f.print = func(v time.Duration) any {
		if v == 0 {
			return "for ever"
		}
		return printDuration(v)
	}
	return f
}

func readDuration(s string) (time.Duration, error) {
	end := strings.LastIndexAny(s, "0123456789.")
	if end < 0 {
		return 0, errDuration
	}
	if d, err := time.ParseDuration(s); err == nil && s != "0" {
		return d, nil // also "1h30m"
	}
	v, err := readNumber(s[:end+1])
	if err != nil {
		return 0, errDuration
	}
	unit := strings.TrimSpace(s[end+1:])
	for _, u := range timeUnits {
		for _, name := range u.names {
			if unit != name {
				continue
			}
			if v*float64(u.d) > float64(math.MaxInt64)/2 {
				return 0, fmt.Errorf("%q is longer than a duration can be", s)
			}
			return time.Duration(math.Round(v * float64(u.d))), nil
		}
	}
	return 0, errDuration
}

// printDuration writes a duration in the longest unit it is a whole number of.
func printDuration(d time.Duration) string {
	if d == 0 {
		return "0 s"
	}
	for _, u := range timeUnits {
		if n := d / u.d; d%u.d == 0 {
			name := u.names[0]
			if n == 1 && strings.HasSuffix(name, "s") && len(name) > 2 {
				name = u.names[1]
			}
			return fmt.Sprintf("%d %s", n, name)
		}
	}
	return d.String()
}

// size is an amount of storage, "20 GB"; 0 is no limit.
func size() format[int64] {
	units := []struct {
		name string
		n    float64
	}{{"TB", 1e12}, {"GB", 1e9}, {"MB", 1e6}, {"GiB", 1 << 30}, {"MiB", 1 << 20}}
	return format[int64]{
		name:  `size, for example "20 GB", or "no limit"`,
		types: []string{"string"},
		read: func(_ *decoder, s string) (int64, error) {
			if s == "no limit" {
				return 0, nil
			}
			for _, u := range units {
				if text, found := strings.CutSuffix(s, u.name); found {
					v, err := readNumber(strings.TrimSpace(text))
					if err == nil && v*u.n >= 1e6 && v*u.n < 1e18 {
						return int64(v * u.n), nil
					}
				}
			}
			return 0, fmt.Errorf(`%q is not a size: write "500 MB", "20 GB", "1 TB" or "no limit"`, s)
		},
		print: func(v int64) any {
			if v == 0 {
				return "no limit"
			}
			for _, u := range units {
				if q := float64(v) / u.n; q >= 1 {
					return short(q) + " " + u.name
				}
			}
			return fmt.Sprintf("%s MB", short(float64(v)/1e6))
		},
	}
}

// reference is a secret, written as a reference to where it is kept.
func reference() format[Secret] {
	return format[Secret]{
		name:  "where the secret is kept: env:NAME, file:PATH or credential:NAME",
		types: []string{"string"},
		hints: map[string]any{"pattern": "^(env|file|credential):."},
		read:  func(d *decoder, s string) (Secret, error) { return d.vault.open(s) },
		print: func(s Secret) any {
			if s.IsZero() {
				return nil
			}
			return writtenSecret(s)
		},
	}
}

// zone is a time zone of the tz database.
func zone() format[*time.Location] {
	return format[*time.Location]{
		name:  "time zone of the tz database, for example Europe/Lisbon",
		types: []string{"string"},
		read: func(_ *decoder, s string) (*time.Location, error) {
			if s == "Local" {
				return nil, errors.New(`"Local" depends on the box: name the zone, for example "UTC" or "Europe/Lisbon"`)
			}
			l, err := time.LoadLocation(s)
			if err != nil {
				return nil, fmt.Errorf("%q is not a time zone of the tz database", s)
			}
			return l, nil
		},
		print: func(l *time.Location) any {
			if l == nil {
				return ""
			}
			return l.String()
		},
	}
}

// instant is a point in time, RFC 3339.
func instant() format[time.Time] {
	return format[time.Time]{
		name:  "time with offset (RFC 3339), for example 2026-05-04T06:00:00+02:00",
		types: []string{"string"},
		read: func(_ *decoder, s string) (time.Time, error) {
			t, err := time.Parse(time.RFC3339, s)
			if err != nil {
				return t, fmt.Errorf("%q is not a time with offset such as 2026-05-04T06:00:00+02:00", s)
			}
			return t, nil
		},
		print: func(t time.Time) any { return t.Format(time.RFC3339) },
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
