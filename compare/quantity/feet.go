package quantity

import (
	"strconv"
	"strings"
)

// parseFeetInches reads feet with inches after them, the sign before the feet
// belonging to both: "3 ft 6 in", "-1 ft 2.5 in", `3'-6 1/2"`. It reports
// ok = false, without an error, for any text that is not of this form.
func parseFeetInches(s string) (l Length, ok bool, err error) {
	number, rest, problem := splitNumber(s)
	if problem != "" {
		return 0, false, nil
	}
	inchText, found := afterFeet(feetSigns.Replace(rest))
	if !found || inchText == "" {
		return 0, false, nil
	}
	fail := func(problem string) (Length, bool, error) {
		return 0, false, &ParseError{Text: s, Want: KindLength, Problem: problem}
	}
	if number != float64(int64(number)) {
		return fail("whole feet are wanted where inches follow")
	}
	inches, ok := parseInches(inchText)
	switch {
	case !ok:
		return fail(`the inches are not readable: write for example "3 ft 6 in" or "3 ft 6 1/2 in"`)
	case inches >= 12:
		return fail("twelve inches or more after the feet")
	}
	l = Length(inches) * Inch
	if strings.HasPrefix(strings.TrimSpace(s), "-") || strings.HasPrefix(strings.TrimSpace(s), "−") {
		l = -l
	}
	return Length(number)*Foot + l, true, nil
}

// afterFeet cuts the unit of feet from the front and returns what is left
// before the unit of inches.
func afterFeet(s string) (inches string, found bool) {
	for _, name := range [...]string{"feet", "foot", "ft", "'"} {
		rest, cut := strings.CutPrefix(s, name)
		if !cut {
			continue
		}
		rest = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(rest), "-"))
		if rest == "" {
			return "", true
		}
		for _, name := range [...]string{"inches", "inch", "in", `"`} {
			if inches, cut := strings.CutSuffix(rest, name); cut {
				return strings.TrimSpace(inches), true
			}
		}
		return rest, true // parseInches will refuse the unit that is left
	}
	return "", false
}

// parseInches reads "6", "6.5", "1/2" or "6 1/2", not negative.
func parseInches(s string) (float64, bool) {
	sum := 0.0
	for i, field := range strings.Fields(s) {
		v, ok := parseFraction(field)
		if !ok || i > 1 || i == 1 && !strings.Contains(field, "/") {
			return 0, false
		}
		sum += v
	}
	return sum, s != ""
}

func parseFraction(s string) (float64, bool) {
	over, under, found := strings.Cut(s, "/")
	if !found {
		if numberLength(s) != len(s) || s[0] == '-' || s[0] == '+' {
			return 0, false
		}
		v, err := strconv.ParseFloat(s, 64)
		return v, err == nil
	}
	n, err1 := strconv.ParseUint(over, 10, 16)
	d, err2 := strconv.ParseUint(under, 10, 16)
	if err1 != nil || err2 != nil || n >= d {
		return 0, false
	}
	return float64(n) / float64(d), true
}

var feetSigns = strings.NewReplacer("′", "'", "’", "'", "″", `"`, "”", `"`)
