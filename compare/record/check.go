package record

import (
	"fmt"
	"strings"
	"time"
)

// Problem is one thing that is missing or cannot be, with the field it is in.
type Problem struct {
	Field string // name of the field, as forms name it
	Text  string // what is wrong and what would do
}

// Problems is everything that is wrong with a record.
type Problems []Problem

func (p Problems) Error() string {
	words := make([]string, len(p))
	for i, one := range p {
		words[i] = one.Field + ": " + one.Text
	}
	return strings.Join(words, "; ")
}

// Of returns what is wrong with one field, "" when nothing is.
func (p Problems) Of(field string) string {
	for _, one := range p {
		if one.Field == field {
			return one.Text
		}
	}
	return ""
}

// longest is the most a text of a record may have, in bytes.
const longest = 4000

// Check returns what is wrong with a record that is about to be booked at now;
// nil when nothing is.
func (r *Record) Check(now time.Time) Problems {
	var p Problems
	wrong := func(field, text string, args ...any) { p = append(p, Problem{field, fmt.Sprintf(text, args...)}) }
	if r.Schema > Schema {
		wrong("schema", "%d is newer than this program knows (%d); update the program", r.Schema, Schema)
	}
	if !r.Kind.Known() {
		wrong("kind", "%q is no kind of record; it is one of %s", r.Kind, kindWords())
	}
	if r.Gauge == "" {
		wrong("gauge", "name the gauge")
	}
	if strings.TrimSpace(r.By) == "" {
		wrong("by", "give the name of who did it")
	}
	if strings.TrimSpace(r.Work) == "" {
		wrong("work", "say what was done")
	}
	switch {
	case r.At.IsZero():
		wrong("at", "say when it was done")
	case r.At.After(now.Add(time.Minute)):
		wrong("at", "%s is in the future; a record says what was done", r.At.Format(time.RFC3339))
	case !r.Began.IsZero() && r.Began.After(r.At):
		wrong("began", "%s is after the end, %s", r.Began.Format(time.RFC3339), r.At.Format(time.RFC3339))
	}
	if r.Corrects < 0 || (r.Number > 0 && r.Corrects >= r.Number) {
		wrong("corrects", "%d is no earlier record", r.Corrects)
	}
	for field, text := range map[string]string{"work": r.Work, "remarks": r.Remarks, "method": r.Method} {
		if len(text) > longest {
			wrong(field, "%d bytes are too many; %d are the most", len(text), longest)
		}
	}
	return append(p, r.checkReference()...)
}

func (r *Record) checkReference() (p Problems) {
	if !r.Kind.Verifies() {
		return nil
	}
	switch ref := r.Reference; {
	case ref == nil || strings.TrimSpace(ref.Description) == "":
		p = append(p, Problem{"reference", "say what the instruments were held against"})
	case ref.U <= 0 || !finite(ref.U):
		p = append(p, Problem{"reference_u", "give the expanded uncertainty (k = 2) of one reading of the reference; it is the guard band"})
	case ref.Due != "":
		if _, err := time.Parse(time.DateOnly, ref.Due); err != nil {
			p = append(p, Problem{"reference_due", fmt.Sprintf("%q is no date; write it like 2027-03-31", ref.Due)})
		}
	}
	if len(r.Rows)+len(r.Trips) == 0 {
		p = append(p, Problem{"rows", "record at least one elevation or one change of a switch"})
	}
	return p
}

func kindWords() string {
	var words []string
	for _, k := range Kinds() {
		words = append(words, string(k))
	}
	return strings.Join(words, ", ")
}
