package page

import (
	"errors"
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/units"
)

// form is a form as somebody sent it, with what was wrong with it: it comes
// back whole, every message beside its field.
type form struct {
	Step     string // which form of the page it was; "": none was sent
	Sent     url.Values
	Problems record.Problems
	Trouble  string // what is wrong with no field in particular
	Units    units.Set
}

// field is one field as a template shows it.
type field struct {
	ID, Name, Label, Type, Value, Problem, Hint string
	Required, Wide                              bool
}

// Field makes a field of a form: with what was sent, or else with a first
// value. Type "area" is a text of several lines; "*" at its end is required.
func (f form) Field(step, name, label, kind, first, hint string) field {
	d := field{ID: step + "-" + name, Name: name, Label: label, Hint: hint, Value: first}
	d.Type, d.Required = strings.CutSuffix(kind, "*")
	d.Wide = d.Type == "area"
	if f.Step == step {
		d.Value, d.Problem = f.Sent.Get(name), upperFirst(f.Problems.Of(name))
	}
	return d
}

// Of returns what was sent for a field of a step, or else the first value.
func (f form) Of(step, name, first string) string {
	if f.Step == step {
		return f.Sent.Get(name)
	}
	return first
}

// Wrong returns what is wrong with a field of a step.
func (f form) Wrong(step, name string) string {
	if f.Step != step {
		return ""
	}
	return upperFirst(f.Problems.Of(name))
}

// Lines lists what is wrong, for the head of the page.
func (f form) Lines() []record.Problem {
	var all []record.Problem
	for _, p := range f.Problems {
		all = append(all, record.Problem{Field: p.Field, Text: upperFirst(p.Text)})
	}
	return all
}

// refuse keeps an error in the form: beside its fields where it names some.
func (f *form) refuse(err error) {
	if !errors.As(err, &f.Problems) {
		f.Trouble = upperFirst(err.Error()) + "."
	}
}

// get returns a field without the spaces around it.
func (f *form) get(name string) string { return strings.TrimSpace(f.Sent.Get(name)) }

// length reads a length: a bare number is in the units of the page. ok is
// false when the field is empty or was not understood, which is then noted.
func (f *form) length(name string) (l quantity.Length, ok bool) {
	text := f.get(name)
	if text == "" {
		return 0, false
	}
	if v, err := strconv.ParseFloat(strings.ReplaceAll(text, "−", "-"), 64); err == nil && !math.IsNaN(v) && !math.IsInf(v, 0) {
		return quantity.Length(v * f.Units.LengthFactor()), true
	}
	l, err := quantity.ParseLength(text)
	if err != nil {
		f.Problems = append(f.Problems, record.Problem{Field: name, Text: fmt.Sprintf("this is no length; write it like 612 for 612 %s, or with its unit", f.Units.LengthSymbol())})
		return 0, false
	}
	return l, true
}

// written writes a length as it is typed into a field.
func written(l quantity.Length, set units.Set) string {
	return strings.ReplaceAll(strings.TrimSuffix(set.LengthFine(l), units.NoBreak+set.LengthSymbol()), "−", "-")
}
