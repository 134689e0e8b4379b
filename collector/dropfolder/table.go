package dropfolder

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"bridlewatch/collector/signal"
)

// table is a file that is being read.
type table struct {
	source  *Source
	file    *os.File
	csv     *csv.Reader
	mark    mark
	after   time.Time // rows of this file given before
	told    int       // lines whose troubles were told before
	time    int       // column
	columns []int     // of the items; -1: not in this file
}

// row is one row that can be used.
type row struct {
	time   time.Time
	values []float64
	errors []error // of each value
}

var (
	errEmpty      = errors.New("no value")
	errNotANumber = errors.New("not a number")
)

func decoderOf(name string) (*encoding.Decoder, error) {
	switch name {
	case "", "utf-8":
		return unicode.UTF8BOM.NewDecoder(), nil
	case "windows-1252":
		return charmap.Windows1252.NewDecoder(), nil
	case "iso-8859-1":
		return charmap.ISO8859_1.NewDecoder(), nil
	case "utf-16":
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder(), nil
	}
	return nil, fmt.Errorf("encoding %q is none of utf-8, windows-1252, iso-8859-1, utf-16", name)
}

// counted counts the bytes that are read.
type counted struct {
	io.Reader
	source *Source
}

func (c counted) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	c.source.bytes.Add(uint64(n))
	return n, err
}

// openTable opens a file and finds its columns. It stands before the first row
// that has not been given.
func (s *Source) openTable(m mark) (*table, error) {
	f, err := os.Open(filepath.Join(s.opts.Dir, m.File))
	if err != nil {
		return nil, err
	}
	decoder, err := decoderOf(s.opts.Encoding)
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	whole, err := wholeLines(f, m.Size, s.opts.Encoding == "utf-16")
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	if whole < m.Size {
		s.trouble(m.File, 0, "the last %d bytes have no line end and may be part of a line: they are not used", m.Size-whole)
	}
	t := &table{source: s, file: f, mark: m, csv: csv.NewReader(decoder.Reader(io.LimitReader(counted{f, s}, whole)))}
	t.csv.Comma, t.csv.FieldsPerRecord, t.csv.ReuseRecord = s.opts.Comma, -1, true
	if have, ok := s.reached(m.File); ok {
		t.after = have.Time
		if m.Size >= have.Size { // the same file, perhaps longer
			t.told = have.Line
		}
	}
	t.mark.Time, t.mark.Line = t.after, t.told
	if err := t.head(); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return t, nil
}

// longestLine is how far from its end a file is searched for a line end.
const longestLine = 1 << 20

// wholeLines is how many bytes of a file are whole lines: a number that is cut
// off is another number.
func wholeLines(f io.ReaderAt, size int64, wide bool) (int64, error) {
	from := max(0, size-longestLine) &^ 1
	tail := make([]byte, size-from)
	if _, err := f.ReadAt(tail, from); err != nil && err != io.EOF {
		return 0, err
	}
	if !wide {
		return from + int64(bytes.LastIndexByte(tail, '\n')) + 1, nil
	}
	for i := len(tail)&^1 - 2; i >= 0; i -= 2 {
		if tail[i]|tail[i+1] == '\n' && (tail[i] == 0 || tail[i+1] == 0) {
			return from + int64(i) + 2, nil
		}
	}
	return from, nil
}

// head finds the columns.
func (t *table) head() error {
	var names []string
	if !t.source.opts.NoHeader {
		head, err := t.csv.Read()
		if err != nil {
			return fmt.Errorf("no header line: %w", err)
		}
		for _, h := range head {
			names = append(names, strings.TrimSpace(strings.TrimPrefix(h, "\ufeff")))
		}
	}
	find := func(column string) int {
		if n := numbered(column); n >= 0 {
			return n
		}
		return slices.Index(names, column)
	}
	if t.time = find(t.source.opts.TimeColumn); t.time < 0 {
		return fmt.Errorf("no time column %q; the header has %q", t.source.opts.TimeColumn, names)
	}
	for _, it := range t.source.items {
		k := find(it.Column)
		if k < 0 {
			t.source.trouble(t.mark.File, 1, "no column %q of %s; the header has %q", it.Column, it.Tag, names)
		}
		t.columns = append(t.columns, k)
	}
	return nil
}

// row reads on to the next row that can be used and has not been given.
func (t *table) row(ctx context.Context) (row, bool) {
	for ctx.Err() == nil {
		record, err := t.csv.Read()
		var malformed *csv.ParseError
		switch {
		case errors.As(err, &malformed):
			t.trouble(malformed.StartLine, "%v", malformed.Err)
			continue
		case err == io.EOF:
			return row{}, false
		case err != nil:
			t.source.trouble(t.mark.File, 0, "%v", err)
			return row{}, false
		}
		line, _ := t.csv.FieldPos(0)
		if r, ok := t.parse(record, line); ok {
			return r, true
		}
	}
	return row{}, false
}

func (t *table) parse(record []string, line int) (row, bool) {
	s := t.source
	if t.time >= len(record) {
		t.trouble(line, "the row has %d cells, the time is in cell %d", len(record), t.time+1)
		return row{}, false
	}
	at, err := s.opts.Times.Parse(record[t.time])
	if err != nil {
		t.trouble(line, "%v", err)
		return row{}, false
	}
	if !t.after.IsZero() && !at.After(t.after) {
		return row{}, false // given before
	}
	if newest := s.newest(); !at.After(newest) && !newest.IsZero() {
		s.late.Add(1)
		t.trouble(line, "time %s is not after %s, which was read before; put it into the history with the import command", at.Format(time.RFC3339), newest.Format(time.RFC3339))
		return row{}, false
	}
	r := row{time: at, values: make([]float64, len(t.columns)), errors: make([]error, len(t.columns))}
	for i, k := range t.columns {
		if k < 0 {
			r.errors[i] = fmt.Errorf("%s has no column %q", t.mark.File, s.items[i].Column)
			continue
		}
		if k >= len(record) {
			r.errors[i] = errEmpty
			continue
		}
		r.values[i], r.errors[i] = s.opts.number(record[k])
		if err := r.errors[i]; err != nil && !errors.Is(err, errEmpty) {
			r.errors[i] = fmt.Errorf("%s:%d: column %q: %w", t.mark.File, line, s.items[i].Column, err)
			t.trouble(line, "column %q: %v", s.items[i].Column, err)
		}
	}
	t.mark.Time, t.mark.Line = at, line
	return r, true
}

func (t *table) trouble(line int, format string, args ...any) {
	if line > t.told {
		t.source.trouble(t.mark.File, line, format, args...)
	}
}

// end is the mark of a file read to its end.
func (t *table) end() mark {
	m := t.mark
	m.Done = true
	return m
}

// number reads a cell.
func (o Options) number(cell string) (float64, error) {
	cell = strings.TrimSpace(cell)
	if cell == "" || slices.Contains(o.Missing, cell) {
		return 0, errEmpty
	}
	v, err := signal.NumberText(cell, o.DecimalComma)
	switch {
	case err != nil:
		return 0, err
	case math.IsNaN(v) || math.IsInf(v, 0):
		return 0, errNotANumber
	}
	return v, nil
}
