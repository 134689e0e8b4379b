package exchange

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"strconv"
	"strings"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"
)

// Rows is an export of a historian: a table with a column of times and one
// column for each signal, read forward. It is not for several goroutines.
type Rows interface {
	// Columns names the columns.
	Columns() []string
	// Next returns the next row as text with its line, counted from 1, or
	// io.EOF. The row is valid until the next call.
	Next() (line int, cells []string, err error)
}

// ErrAsk says that a file can be read in more than one way: a person must say
// which is right.
var ErrAsk = errors.New("the file does not tell")

type csvRows struct {
	in      *csv.Reader
	columns []string
	line    int
}

// ReadCSV reads the header of a CSV file. comma 0 finds out whether comma,
// semicolon or tab separates the columns.
func ReadCSV(r io.Reader, comma rune) (Rows, error) {
	b := bufio.NewReaderSize(r, 64<<10)
	if bom, err := b.Peek(3); err == nil && string(bom) == "\ufeff" {
		if _, err := b.Discard(3); err != nil {
			return nil, err
		}
	}
	if comma == 0 {
		head, err := b.Peek(32 << 10)
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("read CSV: %w", err)
		}
		first, _, _ := strings.Cut(string(head), "\n")
		if comma, err = separator(first); err != nil {
			return nil, err
		}
	}
	in := csv.NewReader(b)
	in.Comma, in.ReuseRecord, in.FieldsPerRecord, in.TrimLeadingSpace = comma, true, -1, true
	header, err := in.Read()
	if err != nil {
		return nil, fmt.Errorf("read CSV header: %w", err)
	}
	rows := &csvRows{in: in, columns: make([]string, len(header))}
	for i, h := range header {
		rows.columns[i] = strings.TrimSpace(h)
	}
	return rows, nil
}

func separator(header string) (rune, error) {
	best, ties := rune(0), 0
	for _, c := range ",;\t" {
		switch n, m := strings.Count(header, string(c)), strings.Count(header, string(best)); {
		case n == 0:
		case best == 0 || n > m:
			best, ties = c, 0
		case n == m:
			ties++
		}
	}
	if best == 0 || ties > 0 {
		return 0, fmt.Errorf("%w: columns of %.80q are separated by comma, semicolon or tab; say which", ErrAsk, header)
	}
	return best, nil
}

func (r *csvRows) Columns() []string { return r.columns }

func (r *csvRows) Next() (int, []string, error) {
	cells, err := r.in.Read()
	r.line, _ = r.in.FieldPos(0)
	if err != nil && !errors.Is(err, io.EOF) {
		err = fmt.Errorf("read CSV: %w", err)
	}
	return r.line, cells, err
}

type parquetRows struct {
	in      *parquet.GenericReader[any]
	columns []string
	types   []parquet.Type
	buf     []parquet.Row
	cells   []string
	line    int
}

// ReadParquet reads a flat Parquet file of size bytes: timestamps become RFC
// 3339, decimals and numbers text that reads back exactly, nulls empty cells.
func ReadParquet(r io.ReaderAt, size int64) (Rows, error) {
	f, err := parquet.OpenFile(r, size, parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, fmt.Errorf("read Parquet: %w", err)
	}
	p := &parquetRows{in: parquet.NewGenericReader[any](f), buf: make([]parquet.Row, 1)}
	for _, c := range f.Root().Columns() {
		if !c.Leaf() || c.Repeated() {
			return nil, fmt.Errorf("read Parquet: column %q is nested; a table of plain columns is needed", c.Name())
		}
		p.columns, p.types = append(p.columns, c.Name()), append(p.types, c.Type())
	}
	p.cells = make([]string, len(p.columns))
	return p, nil
}

func (p *parquetRows) Columns() []string { return p.columns }

func (p *parquetRows) Next() (int, []string, error) {
	n, err := p.in.ReadRows(p.buf)
	if n == 0 {
		if err == nil || errors.Is(err, io.EOF) {
			return p.line, nil, io.EOF
		}
		return p.line, nil, fmt.Errorf("read Parquet: %w", err)
	}
	p.line++
	for i, v := range p.buf[0] {
		p.cells[i] = cellText(p.types[i], v)
	}
	return p.line, p.cells, nil
}

func cellText(t parquet.Type, v parquet.Value) string {
	if v.IsNull() {
		return ""
	}
	if l := t.LogicalType(); l != nil {
		switch meaning := l.Value.(type) {
		case *format.TimestampType:
			return timestampText(meaning, v.Int64())
		case *format.DecimalType:
			return decimalText(v, int(meaning.Scale))
		}
	}
	switch v.Kind() {
	case parquet.Float:
		return strconv.FormatFloat(float64(v.Float()), 'g', -1, 32)
	case parquet.Double:
		return strconv.FormatFloat(v.Double(), 'g', -1, 64)
	case parquet.ByteArray:
		return string(v.ByteArray())
	default:
		return v.String()
	}
}

// decimalText is a decimal number in whichever of its forms the file has it:
// long ones are big-endian bytes in two's complement (Parquet format,
// LogicalTypes.md, DECIMAL).
func decimalText(v parquet.Value, scale int) string {
	if k := v.Kind(); k == parquet.Int32 || k == parquet.Int64 {
		return strconv.FormatFloat(float64(v.Int64())/math.Pow10(scale), 'g', -1, 64)
	}
	raw := v.ByteArray()
	unscaled := new(big.Int).SetBytes(raw)
	if len(raw) > 0 && raw[0]&0x80 != 0 {
		unscaled.Sub(unscaled, new(big.Int).Lsh(big.NewInt(1), uint(8*len(raw))))
	}
	whole := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(scale)), nil)
	return new(big.Rat).SetFrac(unscaled, whole).FloatString(scale)
}

// timestampText is RFC 3339, without an offset when the file says that it is
// local time.
func timestampText(t *format.TimestampType, n int64) string {
	at := time.Unix(0, n)
	switch t.Unit.Value.(type) {
	case *format.MilliSeconds:
		at = time.UnixMilli(n)
	case *format.MicroSeconds:
		at = time.UnixMicro(n)
	}
	if t.IsAdjustedToUTC {
		return at.UTC().Format(time.RFC3339Nano)
	}
	return at.UTC().Format("2006-01-02T15:04:05.999999999")
}
