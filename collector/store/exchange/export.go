// Package exchange carries history to and from other programs: tables in CSV,
// XLSX and Parquet, and exports of a plant historian coming in.
package exchange

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"bridlewatch/collector/store"
)

// Source is where a table comes from; every store.Store is one.
type Source interface {
	Points(ctx context.Context, id store.ID, from, to time.Time) ([]store.Point, error)
}

// Column is one series of a table. What is written is stored value x Scale +
// Offset, in Unit, rounded to Places once.
type Column struct {
	ID     store.ID
	Name   string  // e.g. "LG-101.float.level"
	Unit   string  // of what is written; becomes part of the header
	Scale  float64 // 0 means 1
	Offset float64
	Places int // decimal places; negative: all
}

// Header is the name with the unit, e.g. "LG-101.float.level_mm".
func (c Column) Header() string {
	if c.Unit == "" {
		return c.Name
	}
	return c.Name + "_" + c.Unit
}

func (c Column) convert(v float64) float64 {
	v = v*cmp.Or(c.Scale, 1) + c.Offset
	if c.Places < 0 {
		return v
	}
	p := math.Pow10(c.Places)
	return math.Round(v*p) / p
}

// Table is a selection of history: one row for each instant at which any
// column has a value, in order of time. A value that is not usable is an empty
// cell.
type Table struct {
	Columns  []Column
	From, To time.Time
	Zone     *time.Location // of time_local; UTC when nil
	Quality  bool           // a column with the quality in words behind each column
}

func (t Table) check() error {
	if len(t.Columns) == 0 || !t.From.Before(t.To) {
		return errors.New("export: name at least one column and a range of time")
	}
	seen := map[string]bool{}
	for _, h := range t.headers() {
		if h == "" || seen[h] || reserved[h] {
			return fmt.Errorf("export: column name %q is empty, twice there or reserved", h)
		}
		seen[h] = true
	}
	return nil
}

const (
	timeUTC   = "time_utc"
	timeLocal = "time_local"
)

var reserved = map[string]bool{timeUTC: true, timeLocal: true}

func (t Table) zone() *time.Location {
	if t.Zone == nil {
		return time.UTC
	}
	return t.Zone
}

// headers of the columns behind the times.
func (t Table) headers() []string {
	var out []string
	for _, c := range t.Columns {
		out = append(out, c.Header())
		if t.Quality {
			out = append(out, c.Name+"_quality")
		}
	}
	return out
}

var qualityWords = [...]string{"absent", "bad", "stale", "uncertain", "good"}

func qualityWord(q uint8) string {
	if int(q) < len(qualityWords) {
		return qualityWords[q]
	}
	return fmt.Sprintf("quality %d", q)
}

func usable(p store.Point) bool { return p.Quality >= 3 }

// row is one instant. A cell without a value has the zero time.
type row struct {
	at    time.Time
	cells []store.Point
}

// rows hands the rows to yield, reading a day at a time.
func (t Table) rows(ctx context.Context, s Source, yield func(row) error) error {
	if err := t.check(); err != nil {
		return err
	}
	const chunk = 24 * time.Hour
	for from := t.From; from.Before(t.To); {
		to := from.Truncate(chunk).Add(chunk)
		if to.After(t.To) {
			to = t.To
		}
		columns := make([][]store.Point, len(t.Columns))
		for i, c := range t.Columns {
			var err error
			if columns[i], err = s.Points(ctx, c.ID, from, to); err != nil {
				return fmt.Errorf("export %s: %w", c.Name, err)
			}
		}
		if err := merge(columns, yield); err != nil {
			return err
		}
		from = to
	}
	return nil
}

// merge walks columns in step.
func merge(columns [][]store.Point, yield func(row) error) error {
	cells := make([]store.Point, len(columns))
	for {
		var first time.Time
		for _, c := range columns {
			if len(c) > 0 && (first.IsZero() || c[0].Time.Before(first)) {
				first = c[0].Time
			}
		}
		if first.IsZero() {
			return nil
		}
		for i, c := range columns {
			cells[i] = store.Point{}
			if len(c) > 0 && c[0].Time.Equal(first) {
				cells[i], columns[i] = c[0], c[1:]
			}
		}
		if err := yield(row{first, cells}); err != nil {
			return err
		}
	}
}

// Sidecar is the description that goes beside a table, as JSON.
type Sidecar struct {
	Program string          `json:"program"`
	Made    time.Time       `json:"made"`
	From    time.Time       `json:"from"`
	To      time.Time       `json:"to"`
	Zone    string          `json:"zone"`
	Columns []SidecarColumn `json:"columns"`
}

// SidecarColumn describes one column of a table.
type SidecarColumn struct {
	Header string  `json:"header"`
	Name   string  `json:"name"`
	Unit   string  `json:"unit"`
	Scale  float64 `json:"scale"`  // written = stored x scale + offset
	Offset float64 `json:"offset"` // in the written unit
	Places int     `json:"places"` // negative: not rounded
}

// Describe returns what to know about the table.
func (t Table) Describe(program string, made time.Time) Sidecar {
	s := Sidecar{Program: program, Made: made.UTC(), From: t.From.UTC(), To: t.To.UTC(), Zone: t.zone().String()}
	for _, c := range t.Columns {
		s.Columns = append(s.Columns, SidecarColumn{c.Header(), c.Name, c.Unit, cmp.Or(c.Scale, 1), c.Offset, c.Places})
	}
	return s
}

// Write writes the description as indented JSON.
func (s Sidecar) Write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(s)
}

// plain makes text safe to open in a spreadsheet: a cell that would be taken
// for a formula gets an apostrophe in front.
func plain(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

func plainAll(list []string) []string {
	out := slices.Clone(list)
	for i := range out {
		out[i] = plain(out[i])
	}
	return out
}
