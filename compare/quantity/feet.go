package quantity

import (
	"math"
	"strconv"
	"strings"
)

// parseFeetInches reads feet with inches after them and inches with a
// fraction, the sign in front belonging to all of it: "3 ft 6 in", "-1 ft 2.5
// in", `3'-6 1/2"`, "33 1/2 in". It reports ok = false, without an error, for
// any text that is not of this form.
func parseFeetInches(s string) (l Length, ok bool, err error) {
	text, negative := cutSign(feetSigns.Replace(strings.TrimSpace(s)))
	feet, inchText, isFeet := cutFeet(text)
	if !isFeet {
		var found bool
		if inchText, found = cutInches(text); !found || !strings.Contains(inchText, "/") {
			return 0, false, nil
		}
	}
	fail := func(problem string) (Length, bool, error) {
		return 0, false, &ParseError{Text: s, Want: KindLength, Problem: problem}
	}
	inches, readable := parseInches(inchText)
	switch {
	case feet != math.Trunc(feet) || feet > 1e6:
		return fail("whole feet are wanted where inches follow")
	case !readable:
		return fail(`the inches are not readable: write for example "3 ft 6 in", "3 ft 6 1/2 in" or "33 1/2 in"`)
	case isFeet && inches >= 12:
		return fail("twelve inches or more after the feet")
	}
	l = Length(feet)*Foot + Length(inches)*Inch
	if negative {
		l = -l
	}
	return l, true, nil
}

func cutSign(s string) (rest string, negative bool) {
	for _, minus := range [...]string{"-", "−"} {
		if rest, found := strings.CutPrefix(s, minus); found {
			return rest, true
		}
	}
	return strings.TrimPrefix(s, "+"), false
}

// cutFeet cuts the number and unit of feet from the front and returns the text
// of the inches; found is false where no inches follow.
func cutFeet(s string) (feet float64, inches string, found bool) {
	feet, rest, problem := splitNumber(s)
	if problem != "" || feet < 0 {
		return 0, "", false
	}
	if inches, found = afterFeet(rest); !found || inches == "" {
		return 0, "", false
	}
	return feet, inches, true
}

// afterFeet cuts the unit of feet from the front and returns what is left
// before the unit of inches.
func afterFeet(s string) (inches string, found bool) {
	for _, name := range [...]string{"feet", "foot", "ft", "'"} {
		rest, cut := strings.CutPrefix(s, name)
		if !cut {
			continue
		}
		rest = strings.TrimSpace(strings.TrimPrefix(rest, "-")) // the dash of 3'-6", which is no sign
		if rest == "" {
			return "", true
		}
		inches, _ = cutInches(rest)
		return inches, true // parseInches refuses a unit that is left
	}
	return "", false
}

// cutInches cuts the unit of inches from the end.
func cutInches(s string) (inches string, found bool) {
	for _, name := range [...]string{"inches", "inch", "in", `"`} {
		if inches, found := strings.CutSuffix(s, name); found {
			return strings.TrimSpace(inches), true
		}
	}
	return s, false
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
