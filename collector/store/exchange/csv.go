package exchange

import (
	"bufio"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
)

const (
	layoutUTC   = "2006-01-02T15:04:05.999999Z07:00"
	layoutLocal = "2006-01-02 15:04:05.999999 -07:00" // the offset tells the hours of a clock change apart
)

// WriteCSV writes the table as RFC 4180, UTF-8, with units in the headers,
// the time in UTC and in the table's zone, and formulas neutralised. It
// returns the number of rows.
func (t Table) WriteCSV(ctx context.Context, s Source, w io.Writer) (rows int, err error) {
	b := bufio.NewWriter(w)
	out := csv.NewWriter(b)
	out.UseCRLF = true
	if err := out.Write(append([]string{timeUTC, timeLocal}, plainAll(t.headers())...)); err != nil {
		return 0, err
	}
	zone := t.zone()
	record := make([]string, 0, 2+2*len(t.Columns))
	err = t.rows(ctx, s, func(r row) error {
		rows++
		record = append(record[:0], r.at.UTC().Format(layoutUTC), r.at.In(zone).Format(layoutLocal))
		for i, p := range r.cells {
			cell, quality := "", ""
			if usable(p) {
				cell = strconv.FormatFloat(t.Columns[i].convert(p.Value), 'f', -1, 64)
			}
			if !p.Time.IsZero() {
				quality = qualityWord(p.Quality)
			}
			if record = append(record, cell); t.Quality {
				record = append(record, quality)
			}
		}
		return out.Write(record)
	})
	out.Flush()
	for _, e := range []error{err, out.Error(), b.Flush()} {
		if e != nil {
			return rows, fmt.Errorf("write CSV: %w", e)
		}
	}
	return rows, nil
}
