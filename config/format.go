package config

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
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

// asName is what people and addresses call a thing: a tag or a name.
func asName() format[string] {
	return format[string]{
		name:  "a name of at most 64 characters",
		types: textTypes,
		read: func(_ *decoder, s string) (string, error) {
			switch {
			case s != strings.TrimSpace(s):
				return "", fmt.Errorf("%q begins or ends with a blank", s)
			case utf8.RuneCountInString(s) > 64:
				return "", fmt.Errorf("%q... has more than 64 characters", string([]rune(s)[:20]))
			case s == "." || s == "..":
				return "", fmt.Errorf("%q is no name", s)
			case strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }):
				return "", fmt.Errorf("%q holds a character that cannot be printed", s)
			}
			return s, nil
		},
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

// size is an amount of storage, "20 GB"; 0 is the word none, as "no limit".
func size(none string) format[int64] {
	units := []struct {
		name string
		n    float64
	}{{"TB", 1e12}, {"GB", 1e9}, {"MB", 1e6}, {"GiB", 1 << 30}, {"MiB", 1 << 20}}
	return format[int64]{
		name:  fmt.Sprintf(`size, for example "20 GB", or %q`, none),
		types: []string{"string"},
		read: func(_ *decoder, s string) (int64, error) {
			if s == none {
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
			return 0, fmt.Errorf(`%q is not a size: write "500 MB", "20 GB", "1 TB" or %q`, s, none)
		},
		print: func(v int64) any {
			if v == 0 {
				return none
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
		read: func(d *decoder, s string) (Secret, error) {
			secret, err := d.vault.open(s)
			if trouble := d.vault.exposed(secret); err == nil && trouble != "" {
				d.advise(d.here, "%s", trouble)
			}
			return secret, err
		},
		print: func(s Secret) any {
			if s.IsZero() {
				return nil
			}
			return writtenSecret(s)
		},
	}
}
