package record

import (
	"fmt"
	"strings"

	"bridlewatch/compare/quantity"
)

// Caution stands on every form and every sheet of a record.
const Caution = "Isolating, draining, filling or opening a chamber is done under the site's permit, by competent people who know what is in it " +
	"and at what pressure and temperature. Local rules and the site's procedures come first. This record is not a proof test and not a safety function."

// Rule says how findings were decided.
const Rule = "Decision rule: with the expanded uncertainty U (k = 2) of the reference as guard band, within when |difference| + U is not more than allowed, " +
	"outside when |difference| − U is more than allowed, otherwise it cannot be said."

// Title is the record in a few words.
func (r *Record) Title() string {
	words := fmt.Sprintf("record %d: %s", r.Number, r.Kind)
	if r.Instrument != "" {
		words += " " + r.Instrument
	}
	return words
}

// Summary says in one sentence what the record found.
func (r *Record) Summary() string {
	var parts []string
	for _, p := range []Phase{AsFound, AsLeft} {
		t := r.Tally(p)
		if t.Sum() == 0 {
			continue
		}
		var counts []string
		for _, c := range []struct {
			n    int
			word Finding
		}{{t.Outside, Outside}, {t.CannotSay, CannotSay}, {t.Within, Within}} {
			if c.n > 0 {
				counts = append(counts, fmt.Sprintf("%d %s", c.n, c.word))
			}
		}
		parts = append(parts, string(p)+": "+strings.Join(counts, ", "))
	}
	if len(parts) == 0 {
		return firstLine(r.Work)
	}
	return strings.Join(parts, "; ")
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(strings.TrimSpace(text), "\n")
	return line
}

// Exercise says, without claiming more, what the changes of a switch are
// evidence of.
func (t *Trip) Exercise(by string) []string {
	var lines []string
	for _, c := range []struct {
		change *Change
		way    string
	}{{t.Rising, "rising"}, {t.Falling, "falling"}} {
		if c.change == nil {
			continue
		}
		cause := "process demand"
		if c.change.Filling {
			cause = "deliberate filling or draining"
		}
		when := "Switch "
		if !c.change.At.IsZero() {
			when = "On " + c.change.At.Format("2006-01-02 15:04:05 -07:00") + " switch "
		}
		line := fmt.Sprintf("%s%s changed state at a level of %s ± %s mm by %s, on %s level (%s).", when, t.Tag,
			millimetres(c.change.Level), millimetres(c.change.U), c.change.Witness, c.way, cause)
		if by != "" && c.change.Witness == by && t.Sheet.Operated != "liquid" {
			line += " The same float gave the level and works the switch: this shows switch and magnet, not that the float follows the liquid."
		}
		lines = append(lines, line)
	}
	return lines
}

// Evidence says what the exercise of switches may be taken for, and by whom.
// The clause is named from memory.
const Evidence = "The user may consider this as evidence for part of a proof test: sensing element up to the signal received here. " +
	"It tests neither the logic solver nor the final element, nor the failure modes listed as not tested, nor a direction that was not exercised. " +
	"Coverage and credit must be justified in the user's own safety requirements and test procedure (IEC 61511-1, clause 16). No test interval follows from it."

// Untested lists what the record by its own contents did not test.
func (r *Record) Untested() []string {
	out := []string{"logic solver, final element and the wiring between them", "connections between vessel and chamber: what blocks both taps is not seen from the chamber"}
	for i := range r.Trips {
		t := &r.Trips[i]
		if t.Phase != AsFound {
			continue
		}
		switch {
		case t.Rising == nil && t.Falling == nil:
			out = append(out, t.Tag+": neither direction was exercised")
		case t.Rising == nil:
			out = append(out, t.Tag+": rising level was not exercised")
		case t.Falling == nil:
			out = append(out, t.Tag+": falling level was not exercised")
		}
	}
	if r.Sheet == nil {
		return out
	}
	for _, p := range r.Sheet.Points {
		if !r.exercised(p.Tag) {
			out = append(out, p.Tag+": not exercised")
		}
	}
	return out
}

func (r *Record) exercised(tag string) bool {
	for i := range r.Trips {
		if r.Trips[i].Tag == tag {
			return true
		}
	}
	return false
}

func millimetres(l quantity.Length) string { return fmt.Sprintf("%.1f", l.Millimetres()) }
