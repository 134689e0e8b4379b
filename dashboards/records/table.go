package records

import (
	"fmt"
	"time"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/compare/uncertainty"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// Fact is one line of what is known about a record.
type Fact struct{ Name, Value string }

// Line is one reading or one trip point of a record in words, for a page, a
// sheet of paper or a terminal.
type Line struct {
	Phase      record.Phase
	Row        int    // of Rows, for readings
	First      bool   // of its elevation or switch
	At         string // when
	Elevation  string // what the reference said, or the switch
	Instrument string
	Role       string
	Reading    string
	Difference string
	U          string
	Allowed    string
	Finding    record.Finding
	Why        string
}

// Sheet is a record in words and in the units of its reader.
type Sheet struct {
	Entry
	Heading    string
	Facts      []Fact
	Conditions []Fact
	Readings   []Line
	Trips      []Line
	Hysteresis []Fact
	Exercise   []string
	Budgets    []BudgetTable
	Chain      []Fact
}

// BudgetTable is one budget in words.
type BudgetTable struct {
	Heading string
	Rows    [][5]string // input, standard uncertainty, part of the result, share, source
	Sum     string
}

const dash = "–"

// SheetOf writes a record in words.
func SheetOf(e Entry, set units.Set) Sheet {
	s := Sheet{Entry: e, Heading: fmt.Sprintf("Record %d: %s", e.Number, e.Kind)}
	s.Facts, s.Conditions, s.Chain = factsOf(e, set), conditionsOf(e.Conditions, set), chainOf(e)
	for i := range e.Rows {
		s.Readings = append(s.Readings, rowLines(i, &e.Rows[i], e.At.Location(), set)...)
	}
	for i := range e.Trips {
		t := &e.Trips[i]
		s.Trips = append(s.Trips, tripLines(t, set)...)
		if h, ok := t.Hysteresis(); ok {
			s.Hysteresis = append(s.Hysteresis, Fact{t.Tag + ", " + string(t.Phase), set.LengthFine(h) + ", data sheet " + set.LengthFine(t.Sheet.Rising-t.Sheet.Falling)})
		}
		by := ""
		if e.Sheet != nil {
			by = e.Sheet.Float.Tag
		}
		s.Exercise = append(s.Exercise, t.Exercise(by)...)
	}
	for i := range e.Budgets {
		s.Budgets = append(s.Budgets, budgetTable(&e.Budgets[i]))
	}
	return s
}

func factsOf(e Entry, set units.Set) []Fact {
	zone := times.Zone{Location: e.At.Location()}
	facts := []Fact{{"Gauge", words(e.Gauge, e.Service)}}
	add := func(name, value string) {
		if value != "" {
			facts = append(facts, Fact{name, value})
		}
	}
	if e.Rehearsal {
		add("REHEARSAL", "not the plant: nothing here was measured on a real vessel")
	}
	add("Instrument", e.Instrument)
	add("Site", words(e.Site, e.Box))
	if !e.Began.IsZero() {
		add("Begun", zone.Full(e.Began))
	}
	add("Done", zone.Full(e.At)+" ("+e.Zone+")")
	if !e.Booked.Equal(e.At) {
		add("Booked", times.Zone{Location: e.Booked.Location()}.Full(e.Booked))
	}
	add("By", e.By)
	add("Permit", e.Permit)
	add("Method", e.Method)
	if ref := e.Reference; ref != nil {
		add("Reference", ref.Description)
		add("Serial number", ref.Serial)
		due := ref.Due
		if ref.Overdue(e.At) {
			due += ", OVERDUE when it was used"
		}
		add("Calibration due", due)
		add("Uncertainty of the reference", set.LengthFine(ref.U)+" (k = 2)")
	}
	if e.Sheet != nil {
		c := e.Sheet.Chamber
		add("Centre to centre", set.LengthFine(c.CentreToCentre)+"; all lengths are above the lower tap")
		if c.LowerTapEL != 0 {
			add("Lower tap", "plant elevation "+set.Elevation(c.LowerTapEL))
		}
	}
	if e.Corrects > 0 {
		add("Corrects", fmt.Sprintf("record %d", e.Corrects))
	}
	add("Configuration", e.Configuration)
	add("Software", "bridlewatch "+e.Software)
	return facts
}

func words(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + ", " + b
}

func conditionsOf(c *record.Conditions, set units.Set) []Fact {
	if c == nil {
		return nil
	}
	note := ""
	if c.Assumed {
		note = " (from the data sheet where not measured)"
	}
	facts := []Fact{{"Pressure", set.Pressure(c.Pressure) + note}, {"Temperature, vessel", set.Temperature(c.Temperature) + note}, {"Temperature, chamber", set.Temperature(c.Chamber)}}
	if c.Density > 0 {
		facts = append(facts, Fact{"Liquid density, chamber", set.DensityWith(c.Density, c.DensityU) + " (k = 2), " + c.Source})
	}
	return facts
}

func chainOf(e Entry) []Fact {
	facts := []Fact{{"SHA-256 of this record", e.Hash}}
	if e.Previous > 0 {
		facts = append(facts, Fact{"Record before", fmt.Sprintf("%d, SHA-256 %s", e.Previous, e.PreviousHash)})
	} else {
		facts = append(facts, Fact{"Record before", "none: this is the first of the box"})
	}
	return facts
}

func rowLines(index int, row *record.Row, zone *time.Location, set units.Set) []Line {
	var lines []Line
	for i := range row.Readings {
		r := &row.Readings[i]
		l := Line{Phase: row.Phase, Row: index, First: i == 0, Instrument: r.Tag, Role: r.Role, Reading: set.LengthFine(r.Value)}
		if l.First {
			l.At, l.Elevation = row.At.In(zone).Format("15:04:05"), set.LengthFine(row.Reference)
		}
		if r.Missing != "" {
			l.Reading = dash
		}
		l.verdict(&r.Verdict, set)
		lines = append(lines, l)
	}
	return lines
}

func tripLines(t *record.Trip, set units.Set) []Line {
	var lines []Line
	for _, c := range []struct {
		change *record.Change
		sheet  quantity.Length
		way    string
	}{{t.Rising, t.Sheet.Rising, "rising"}, {t.Falling, t.Sheet.Falling, "falling"}} {
		l := Line{Phase: t.Phase, First: len(lines) == 0, Elevation: t.Tag, Instrument: c.way, Role: "data sheet " + set.LengthFine(c.sheet), Reading: dash}
		if c.change == nil {
			missing := record.Missing("not exercised")
			l.verdict(&missing, set)
		} else {
			l.Reading = set.LengthFine(c.change.Level) + " by " + c.change.Witness
			if !c.change.At.IsZero() {
				l.At = c.change.At.Format("15:04:05")
			}
			l.verdict(&c.change.Verdict, set)
		}
		lines = append(lines, l)
	}
	return lines
}

func (l *Line) verdict(v *record.Verdict, set units.Set) {
	l.Finding, l.Why, l.Difference, l.U, l.Allowed = v.Finding, v.Why, dash, dash, dash
	if l.Reading == dash {
		return
	}
	l.Difference, l.U = set.Signed(v.Difference), set.LengthFine(v.U)
	if v.Allowed > 0 {
		l.Allowed = "±" + units.NoBreak + set.LengthFine(v.Allowed)
	}
}

func budgetTable(b *uncertainty.Budget) BudgetTable {
	t := BudgetTable{Heading: b.Quantity, Sum: fmt.Sprintf("u = %s mm, U = %s mm (k = %s)", units.Fixed(b.U, 2), units.Fixed(b.Expanded, 1), units.Raw(b.Coverage, ""))}
	for _, term := range b.Ranked() {
		t.Rows = append(t.Rows, [5]string{term.Name, units.Significant(term.U, 3) + units.NoBreak + term.Unit, units.Fixed(term.Contribution, 2) + units.NoBreak + "mm",
			units.Fixed(100*term.Share, 0) + units.NoBreak + "%", term.Source})
	}
	return t
}
