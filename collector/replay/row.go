package replay

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
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
		return fmt.Errorf("replay: %s: no time column %q; the header has %q", f.name, want, f.head)
	}
	for i, s := range signals {
		if k := slices.Index(f.head, s.Column); k >= 0 {
			f.columns = append(f.columns, column{k, i})
		}
	}
	return nil
}

// advance reads on to the next row that can be used.
func (f *file) advance() {
	for {
		record, err := f.csv.Read()
		if err != nil {
			f.err = err
			if err != io.EOF {
				f.err = fmt.Errorf("replay: %s: %w", f.name, err)
			}
			return
		}
		line, _ := f.csv.FieldPos(0)
		if f.time >= len(record) {
			f.troubles.add(f.name, line, "the row has %d cells, the time is in cell %d", len(record), f.time+1)
			continue
		}
		at, err := f.options.stamps().Parse(record[f.time])
		if err != nil {
			f.troubles.add(f.name, line, "%v", err)
			continue
		}
		if at.Before(f.at) {
			f.troubles.add(f.name, line, "time %s is before the row above (%s)", at.Format(time.RFC3339), f.at.Format(time.RFC3339))
			continue
		}
		f.at = at
		f.fill(record, line)
		return
	}
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
	v, err := number(text)
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

// number reads a number or a contact state. A decimal comma is refused, never
// guessed.
func number(text string) (float64, error) {
	if state, ok := signal.ContactText(text); ok {
		return state, nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err == nil {
		return v, nil
	}
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		return 0, fmt.Errorf("%q looks like a number with a decimal comma; write the file with decimal points", text)
	}
	return 0, fmt.Errorf("%q is not a number", text)
}
