package exchange

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"bridlewatch/collector/store"
)

func (r *importRun) problem(line int, column, text, why string) {
	r.report.ProblemCount++
	if len(r.report.Problems) < maxProblems {
		r.report.Problems = append(r.report.Problems, Problem{line, column, text, why})
	}
}

// take parses one row.
func (r *importRun) take(line int, cells []string) error {
	if r.timeCell >= len(cells) {
		r.problem(line, r.Clock.Column, "", "the row is too short")
		return nil
	}
	before := r.clock.last
	t, err := r.clock.read(cells[r.timeCell])
	if errors.Is(err, ErrAsk) {
		return err
	}
	if err != nil {
		r.problem(line, r.Clock.Column, cells[r.timeCell], err.Error())
		return nil
	}
	r.noteTime(t, before)
	row := importRow{t.at, make([]store.Value, len(r.cells))}
	for i, c := range r.cells {
		cell := ""
		if c < len(cells) {
			cell = strings.TrimSpace(cells[c])
		}
		if row.values[i], err = r.value(line, i, cell); err != nil {
			return err
		}
		if row.values[i].Quality > 1 {
			r.gaps[i].see(t.at)
		}
	}
	r.pending = append(r.pending, row)
	return nil
}

func (r *importRun) noteTime(t reading, before time.Time) {
	if t.ambiguous {
		r.report.Ambiguous++
	}
	switch {
	case before.IsZero():
	case t.at.Equal(before):
		r.report.Repeated++
	case t.at.Before(before):
		r.report.OutOfOrder++
	}
	if r.report.From.IsZero() || t.at.Before(r.report.From) {
		r.report.From = t.at
	}
	if t.at.After(r.report.To) {
		r.report.To = t.at
	}
}

func (r *importRun) value(line, i int, cell string) (store.Value, error) {
	c := &r.report.Columns[i]
	if cell == "" {
		c.Empty++
		return store.Value{}, nil
	}
	v, err := r.parse(cell)
	if errors.Is(err, ErrAsk) {
		return store.Value{}, fmt.Errorf("line %d: %w", line, err)
	}
	if err != nil {
		c.Bad++
		r.problem(line, c.Column, cell, "not a number; stored as a bad value")
		return store.Value{ID: r.ids[i], Quality: bad, Reason: notANumber}, nil
	}
	return store.Value{ID: r.ids[i], Value: r.Columns[i].convert(v), Quality: good}, nil
}

// convert divides where Scale is one over a whole number: 501.5 mm become
// 0.5015 m and not 0.5015000000000001, which would not pack as a decimal.
func (m Mapping) convert(v float64) float64 {
	scale := cmp.Or(m.Scale, 1)
	if n := math.Round(1 / scale); n > 1 && 1/n == scale {
		return v/n + m.Offset
	}
	return v*scale + m.Offset
}

// parse reads a number. A comma is a decimal comma or groups thousands: when
// the file does not tell, a person must.
func (r *importRun) parse(cell string) (float64, error) {
	comma := strings.ContainsRune(cell, ',')
	if comma && r.Decimal == 0 {
		if _, err := strconv.ParseFloat(strings.ReplaceAll(cell, ",", "."), 64); err == nil {
			return 0, fmt.Errorf("%w: %q may have a decimal comma or group thousands; say whether the decimal sign is point or comma", ErrAsk, cell)
		}
	}
	switch {
	case r.Decimal == ',' && strings.ContainsRune(cell, '.'):
		return 0, errors.New("decimal point in a file with decimal commas")
	case r.Decimal == ',':
		cell = strings.ReplaceAll(cell, ",", ".")
	case comma:
		return 0, errors.New("comma in a number")
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		err = errors.New("not finite")
	}
	return v, err
}
