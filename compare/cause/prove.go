package cause

import (
	"slices"
	"strings"
)

// WouldProve says what would settle the first cause of a set: what the test of Next
// shows if it is there, and where others show the same, what then tells them apart.
// It is of the same test as Next, because whoever goes there does that one: a test
// that proves the first cause and tells less of the others for its effort is no
// better to begin with. Of two faults at once it says what shows them. Where the
// trade knows no test it is what proves the cause.
func WouldProve(c Cause, set []Ranked) string {
	if len(set) == 0 {
		return ""
	}
	tests := Settle(set)
	switch {
	case c == TwoFaults:
		return proveBoth(tests, set)
	case len(tests) == 0:
		return phraseOf(set[0].Cause).prove
	}
	t := &tests[0]
	seen, left := t.outcome(set[0].Cause, set)
	text := t.Name + ": " + seen
	if len(left) == 1 {
		return text
	}
	names := make([]string, len(left))
	for i, r := range left {
		names[i] = phraseOf(r.Cause).name
	}
	text += ", which leaves " + strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
	if then := Settle(left); len(then) > 0 {
		text += "; then " + then[0].Name
	}
	return text
}

// outcome is what a test shows where a cause is there, and the causes of the set that
// show the same.
func (t *Test) outcome(c Cause, set []Ranked) (seen string, left []Ranked) {
	for _, o := range t.Outcomes {
		if !slices.Contains(o.Means, c) {
			continue
		}
		for _, r := range set {
			if slices.Contains(o.Means, r.Cause) && !slices.ContainsFunc(left, func(l Ranked) bool { return l.Cause == r.Cause }) {
				left = append(left, r)
			}
		}
		return o.Seen, left
	}
	return anythingElse, []Ranked{{Cause: c}}
}

// listed is how many proofs a sentence about two faults has.
const listed = 3

// proveBoth says what shows faults that are there at once: what the first test shows
// of them, and for those it says nothing of what proves them alone.
func proveBoth(tests []Test, set []Ranked) string {
	var seen, alone []string
	for _, r := range set {
		if len(tests) > 0 && tests[0].names(r.Cause) {
			if s, _ := tests[0].outcome(r.Cause, set); !slices.Contains(seen, s) && len(seen) < listed {
				seen = append(seen, s)
			}
		} else if s := phraseOf(r.Cause).prove; !slices.Contains(alone, s) && len(alone) < listed {
			alone = append(alone, s)
		}
	}
	text := "put one right and see whether the other explains what is left"
	if len(seen) > 0 {
		text = tests[0].Name + ": " + strings.Join(seen, ", or ") + "; " + text
	}
	return strings.Join(append([]string{text}, alone...), "; ")
}

// names reports whether an outcome of the test is that of the cause and not merely
// what every other cause shows.
func (t *Test) names(c Cause) bool {
	i := slices.IndexFunc(known, func(p procedure) bool { return p.Name == t.Name })
	return i >= 0 && known[i].names(c)
}
