package replay

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/signal"
	"bridlewatch/compare/quantity"
)

// readHead reads the header line and finds the wanted columns.
func (f *file) readHead(signals []Signal) error {
	head, err := f.csv.Read()
	if err != nil {
		return fmt.Errorf("replay: %s: no header line: %w", f.name, err)
	}
	f.head = make([]string, len(head))
	for i, h := range head {
		f.head[i] = strings.TrimSpace(strings.TrimPrefix(h, "\ufeff"))
	}
	want := f.options.TimeColumn
	if want == "" {
		want = "time"
	}
	if f.time = slices.Index(f.head, want); f.time < 0 {
		return fmt.Errorf("replay: %s: no time column %q; the header has %s: %s", f.name, want, listed(f.head), f.remedy())
	}
	for i, s := range signals {
		if k := slices.Index(f.head, s.Column); k >= 0 {
			f.columns = append(f.columns, column{k, i})
		}
	}
	return nil
}

// remedy says what to look at when a header has no time column.
func (f *file) remedy() string {
	if len(f.head) == 1 {
		for _, s := range []string{";", "\t"} {
			if strings.Contains(f.head[0], s) {
				return fmt.Sprintf("the columns seem to be separated by %q, set separator", s)
			}
		}
		return "is this a file with separated columns?"
	}
	return "set time_column to the one with the time"
}

// listed writes names of columns, as many as somebody would read.
func listed(names []string) string {
	const most, longest = 20, 40
	var b strings.Builder
	for i, name := range names {
		if i == most {
			fmt.Fprintf(&b, " and %d more", len(names)-most)
			break
		}
		if cut := firstRunes(name, longest); cut != name {
			name = cut + "..."
		}
		fmt.Fprintf(&b, "%s%q", map[bool]string{true: " "}[i > 0], name)
	}
	return "[" + b.String() + "]"
}

// firstRunes is a text without what stands behind its first n characters. A cut
// within one would show it as bytes.
func firstRunes(text string, n int) string {
	for i := range text {
		if n == 0 {
			return text[:i]
		}
		n--
	}
	return text
}

// dated is a row that was read and whose time is known.
type dated struct {
	at     time.Time
	line   int
	record []string
}

// lookAhead is how many rows below a row tell whether its time is a stray one.
const lookAhead = 2

// advance goes on to the next row that can be used.
func (f *file) advance() {
	for {
		for len(f.ahead) <= lookAhead && f.end == nil {
			f.readRow()
		}
		if len(f.ahead) == 0 {
			f.err = f.end
			return
		}
		r := f.ahead[0]
		f.ahead = append(f.ahead[:0], f.ahead[1:]...)
		f.free = append(f.free, r.record)
		switch {
		case r.at.Before(f.at):
			f.troubles.add(f.name, r.line, "time %s is before the row above (%s): the row is left out; rows must be in order of time", r.at.Format(time.RFC3339), f.at.Format(time.RFC3339))
		case f.strays(r.at):
			f.troubles.add(f.name, r.line, "time %s is after the rows below, which go on from the row above (%s): the row is left out", r.at.Format(time.RFC3339), f.ahead[0].at.Format(time.RFC3339))
		default:
			f.at = r.at
			f.fill(r.record, r.line)
			return
		}
	}
}

// strays reports whether a time is one that the rows below do not follow, while
// they follow the row above: of a clock or a cell that was wrong once. Without it
// everything below would be left out.
func (f *file) strays(at time.Time) bool {
	if len(f.ahead) < lookAhead {
		return false
	}
	last := f.at
	for _, r := range f.ahead {
		if !r.at.Before(at) || r.at.Before(last) {
			return false
		}
		last = r.at
	}
	return true
}

// readRow reads the next row whose time can be read, or sets how the file ends. A
// row that is no CSV is left out; what is below it is read on.
func (f *file) readRow() {
	record, err := f.csv.Read()
	var broken *csv.ParseError
	switch {
	case errors.As(err, &broken):
		f.troubles.add(f.name, broken.Line, "the row is no CSV: %v", broken.Err)
		return
	case err == io.EOF:
		f.end = err
		return
	case err != nil:
		f.end = fmt.Errorf("replay: %s: %w", f.name, err)
		return
	}
	line, _ := f.csv.FieldPos(0)
	if f.time >= len(record) {
		f.troubles.add(f.name, line, "the row has %d cells, the time is in cell %d", len(record), f.time+1)
		return
	}
	at, err := f.options.stamps().Parse(record[f.time])
	if err != nil {
		f.troubles.add(f.name, line, "%v", err)
		return
	}
	var kept []string
	if n := len(f.free); n > 0 {
		kept, f.free = f.free[n-1], f.free[:n-1]
	}
	f.ahead = append(f.ahead, dated{at, line, append(kept[:0], record...)})
}

func (f *file) fill(record []string, line int) {
	for _, c := range f.columns {
		f.row[c.signal] = collector.Sample{}
		if c.index >= len(record) {
			continue
		}
		f.row[c.signal] = f.cell(record[c.index], line, c)
	}
}

// cell reads one value. An empty cell is no sample at all; a cell that is no
// number is a bad sample.
func (f *file) cell(text string, line int, c column) collector.Sample {
	text = strings.TrimSpace(text)
	if text == "" || slices.Contains(f.options.Missing, text) {
		return collector.Sample{}
	}
	s := collector.Sample{Time: f.at, SourceTime: f.at, Quality: quantity.Good}
	v, err := signal.NumberText(text, f.options.DecimalComma)
	switch {
	case err != nil:
		f.troubles.add(f.name, line, "column %q: %v", f.head[c.index], err)
		s.Quality, s.Reason = quantity.Bad, quantity.BadShape
	case math.IsNaN(v) || math.IsInf(v, 0):
		s.Quality, s.Reason = quantity.Bad, quantity.NotANumber
	default:
		s.Value = v
	}
	return s
}
