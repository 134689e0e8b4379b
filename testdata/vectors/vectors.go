// Package vectors holds the published and computed check values the tests
// compare with, and keeps the worst error per source. SOURCES.md beside it
// names document, edition and table of every file.
package vectors

import (
	"embed"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"
)

//go:embed *.csv
var files embed.FS

// Row is one line of a file, by column name.
type Row map[string]string

// Read returns the lines of a file.
func Read(t testing.TB, name string) []Row {
	t.Helper()
	file, err := files.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows := make([]Row, len(lines)-1)
	for i, line := range lines[1:] {
		rows[i] = Row{}
		for k, column := range lines[0] {
			rows[i][column] = line[k]
		}
	}
	return rows
}

// Number returns a column as a number; an empty one is 0.
func (r Row) Number(t testing.TB, column string) float64 {
	t.Helper()
	if r[column] == "" {
		return 0
	}
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %q: %v", column, err)
	}
	return v
}

// HalfDigit is half a unit of the last digit a number is printed with, which
// is how far a right value may be from the print.
func HalfDigit(text string) float64 {
	mantissa, exponent, _ := strings.Cut(text, "e")
	_, decimals, _ := strings.Cut(mantissa, ".")
	power, _ := strconv.Atoi(exponent)
	return 0.5 * math.Pow10(power-len(decimals))
}

// Report gathers the errors against one source. It logs one line when the
// test ends; `make vectors` collects those lines.
type Report struct {
	source string
	values int
	worst  float64
	where  string
}

// NewReport starts the report of a source: document, edition and table.
func NewReport(t testing.TB, source string) *Report {
	r := &Report{source: source}
	t.Cleanup(func() {
		t.Logf("vectors: %s | %d values | worst relative error %.1e | %s", r.source, r.values, r.worst, r.where)
	})
	return r
}

// Relative notes a value and returns its relative error.
func (r *Report) Relative(where string, got, want float64) float64 {
	e := math.Abs(got - want)
	if want != 0 {
		e /= math.Abs(want)
	}
	r.values++
	if e >= r.worst || math.IsNaN(e) {
		r.worst, r.where = e, where
	}
	return e
}
