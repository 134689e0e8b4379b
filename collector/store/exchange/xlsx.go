package exchange

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/xuri/excelize/v2"
)

// ErrTooManyRows says that a sheet cannot hold the table.
var ErrTooManyRows = errors.New("more rows than a sheet holds")

const sheetRows = 1_048_576 // ECMA-376 workbooks of the common programs end here

// WriteXLSX writes the table as a workbook for people: one sheet "history"
// with real dates and numbers, one sheet "about". More than 1,048,575 rows are
// ErrTooManyRows.
func (t Table) WriteXLSX(ctx context.Context, s Source, w io.Writer, about Sidecar) (rows int, err error) {
	f := excelize.NewFile()
	defer f.Close()
	if err := f.SetSheetName("Sheet1", "history"); err != nil {
		return 0, fmt.Errorf("write XLSX: %w", err)
	}
	if rows, err = t.writeSheet(ctx, s, f, sheetRows); err != nil {
		return rows, fmt.Errorf("write XLSX: %w", err)
	}
	if err := writeAbout(f, about); err != nil {
		return rows, fmt.Errorf("write XLSX: %w", err)
	}
	if _, err := f.WriteTo(w); err != nil {
		return rows, fmt.Errorf("write XLSX: %w", err)
	}
	return rows, nil
}

// writeSheet writes at most limit rows, the header included.
func (t Table) writeSheet(ctx context.Context, s Source, f *excelize.File, limit int) (rows int, err error) {
	date, err := f.NewStyle(&excelize.Style{CustomNumFmt: new("yyyy-mm-dd hh:mm:ss.000")})
	if err != nil {
		return 0, err
	}
	sheet, err := f.NewStreamWriter("history")
	if err != nil {
		return 0, err
	}
	if err := errors.Join(sheet.SetColWidth(1, 2, 24), sheet.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})); err != nil {
		return 0, err
	}
	header := []any{timeUTC, timeLocal}
	for _, h := range t.headers() {
		header = append(header, plain(h))
	}
	if err := sheet.SetRow("A1", header); err != nil {
		return 0, err
	}
	zone := t.zone()
	err = t.rows(ctx, s, func(r row) error {
		if rows++; rows >= limit {
			return fmt.Errorf("%w: over %d; export fewer days, or CSV or Parquet", ErrTooManyRows, limit-1)
		}
		return sheet.SetRow(fmt.Sprintf("A%d", rows+1), t.sheetRow(r, zone, date))
	})
	if err != nil {
		return rows, err
	}
	return rows, sheet.Flush()
}

func (t Table) sheetRow(r row, zone *time.Location, date int) []any {
	cells := []any{
		excelize.Cell{StyleID: date, Value: r.at.UTC()},
		excelize.Cell{StyleID: date, Value: wallClock(r.at.In(zone))},
	}
	for i, p := range r.cells {
		var cell, quality any
		if usable(p) {
			cell = t.Columns[i].convert(p.Value)
		}
		if !p.Time.IsZero() {
			quality = qualityWord(p.Quality)
		}
		if cells = append(cells, cell); t.Quality {
			cells = append(cells, quality)
		}
	}
	return cells
}

// wallClock keeps what the clock shows: a sheet knows no zones.
func wallClock(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
}

func writeAbout(f *excelize.File, about Sidecar) error {
	if _, err := f.NewSheet("about"); err != nil {
		return err
	}
	lines := [][]any{
		{"program", plain(about.Program)}, {"made", about.Made.Format(time.RFC3339)},
		{"from", about.From.Format(time.RFC3339)}, {"to", about.To.Format(time.RFC3339)}, {"zone of time_local", about.Zone},
		{"column", "unit", "scale", "offset", "places"},
	}
	for _, c := range about.Columns {
		lines = append(lines, []any{plain(c.Header), plain(c.Unit), c.Scale, c.Offset, c.Places})
	}
	for i, line := range lines {
		if err := f.SetSheetRow("about", fmt.Sprintf("A%d", i+1), &line); err != nil {
			return err
		}
	}
	return nil
}
