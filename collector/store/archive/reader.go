package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"

	"bridlewatch/collector/store"
)

// File is an open archive file. It may be used from several goroutines.
type File struct {
	in   *parquet.File
	kind Kind
}

// Verify compares the SHA-256, in hexadecimal, of a file of size bytes. Do it
// before Open: flipped bits in a footer or a page header can ask a decoder for
// more memory than there is, so nothing is decoded unless it is what was
// written. A difference is store.ErrCorrupt.
func Verify(r io.ReaderAt, size int64, sum string) error {
	got, err := Sum(io.NewSectionReader(r, 0, size))
	if err != nil {
		return err
	}
	if got != sum {
		return fmt.Errorf("%w: SHA-256 is %.12s..., was %.12s... when written", store.ErrCorrupt, got, sum)
	}
	return nil
}

// Open reads the footer of a verified file of size bytes. One of an unknown
// format is store.ErrCorrupt.
func Open(r io.ReaderAt, size int64) (f *File, err error) {
	defer recoverDamage("footer", &err)
	in, err := parquet.OpenFile(r, size, parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", store.ErrCorrupt, err)
	}
	version, _ := in.Lookup("bridlewatch.format")
	if version != Format || len(in.Root().Columns()) != columns {
		return nil, fmt.Errorf("%w: archive format %q, want %q", store.ErrCorrupt, version, Format)
	}
	k := kindIn(in)
	if k >= Kinds {
		return nil, fmt.Errorf("%w: values of %d decimal places, at most %d are written", store.ErrCorrupt, k, maxPlaces)
	}
	return &File{in, k}, nil
}

// Sum returns the SHA-256 of all of r in hexadecimal.
func Sum(r io.Reader) (string, error) {
	h := sha256.New()
	if _, err := io.Copy(h, r); err != nil {
		return "", fmt.Errorf("archive checksum: %w", err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

func kindIn(in *parquet.File) Kind {
	t := in.Root().Column("value").Type()
	if l := t.LogicalType(); l != nil {
		if d, ok := l.Value.(*format.DecimalType); ok {
			return Kind(d.Scale)
		}
	}
	if t.Kind() == parquet.Float {
		return Float
	}
	return Double
}

// Len returns the number of series.
func (f *File) Len() int { return len(f.in.RowGroups()) }

// Day and Class say what the whole file is about. An unknown day or class is
// store.ErrCorrupt.
func (f *File) Day() (day time.Time, class store.Class, err error) {
	text, _ := f.in.Lookup("bridlewatch.day")
	if day, err = time.Parse(time.DateOnly, text); err != nil {
		return day, class, fmt.Errorf("%w: day %q", store.ErrCorrupt, text)
	}
	name, _ := f.in.Lookup("bridlewatch.class")
	for _, class := range []store.Class{store.Raw, store.Derived} {
		if ClassName(class) == name {
			return day, class, nil
		}
	}
	return day, class, fmt.Errorf("%w: class %q", store.ErrCorrupt, name)
}

// Series returns the name of series number i; its class is that of the file.
func (f *File) Series(i int) (s store.Series, err error) {
	defer recoverDamage("row group", &err)
	if i < 0 || i >= f.Len() {
		return s, fmt.Errorf("%w: no row group %d among %d", store.ErrCorrupt, i, f.Len())
	}
	chunks := f.in.RowGroups()[i].ColumnChunks()
	for _, c := range []struct {
		col  int
		into *string
	}{{colGauge, &s.Gauge}, {colSignal, &s.Name}, {colUnit, &s.Unit}} {
		if *c.into, err = firstText(chunks[c.col]); err != nil {
			return s, fmt.Errorf("%w: row group %d: %w", store.ErrCorrupt, i, err)
		}
	}
	_, s.Class, err = f.Day()
	return s, err
}

func firstText(chunk parquet.ColumnChunk) (text string, err error) {
	pages := chunk.Pages()
	defer func() { err = errors.Join(err, pages.Close()) }()
	page, err := pages.ReadPage()
	if err != nil {
		return "", err
	}
	defer parquet.Release(page)
	var v [1]parquet.Value
	if n, err := page.Values().ReadValues(v[:]); n == 0 {
		return "", err
	}
	return string(v[0].ByteArray()), nil
}

// Read appends the samples of series number i, in order of time, to into.
// With context, source times and configuration versions are read as well.
// Damage is store.ErrCorrupt.
func (f *File) Read(i int, into []Sample, context bool) (out []Sample, err error) {
	defer recoverDamage("row group", &err)
	if i < 0 || i >= f.Len() {
		return into, fmt.Errorf("%w: no row group %d among %d", store.ErrCorrupt, i, f.Len())
	}
	group := f.in.RowGroups()[i]
	start := len(into)
	out = append(into, make([]Sample, group.NumRows())...)
	rows := out[start:]
	for j := range rows {
		rows[j].Source = NoSource
	}
	for c, take := range f.takers(context) {
		if take == nil {
			continue
		}
		if err := eachPage(group.ColumnChunks()[c], rows, take); err != nil {
			return into, fmt.Errorf("%w: row group %d: %w", store.ErrCorrupt, i, err)
		}
	}
	for j := range rows {
		if rows[j].Source != NoSource {
			rows[j].Source -= rows[j].At
		}
	}
	return out, nil
}

// taker copies one page into the rows it covers and returns how many those are.
type taker func(rows []Sample, page parquet.Page) (int, error)

func (f *File) takers(context bool) [columns]taker {
	t := [columns]taker{
		colTime:    required(int64s, func(s *Sample, v int64) { s.At = v }),
		colQuality: required(int32s, func(s *Sample, v int32) { s.Quality = uint8(v) }),
		colReason:  required(int32s, func(s *Sample, v int32) { s.Reason = uint8(v) }),
		colValue:   f.valueTaker(),
	}
	if context {
		t[colConfig] = required(int32s, func(s *Sample, v int32) { s.Config = uint32(v) })
		t[colSource] = optional(int64s, func(s *Sample, v int64) { s.Source = v })
	}
	return t
}

func (f *File) valueTaker() taker {
	switch {
	case f.kind <= maxPlaces:
		scale := powers[f.kind]
		return optional(int64s, func(s *Sample, v int64) { s.Value = float64(v) / scale })
	case f.kind == Float:
		return optional(floats, func(s *Sample, v float32) { s.Value = float64(v) })
	default:
		return optional(doubles, func(s *Sample, v float64) { s.Value = v })
	}
}

func int64s(p parquet.Page) []int64    { d := p.Data(); return d.Int64() }
func floats(p parquet.Page) []float32  { d := p.Data(); return d.Float() }
func doubles(p parquet.Page) []float64 { d := p.Data(); return d.Double() }

// int32s also covers the unsigned small columns, which share the bits.
func int32s(p parquet.Page) []int32 { d := p.Data(); return d.Int32() }

var errShort = errors.New("page does not fit its row group")

func required[T any](data func(parquet.Page) []T, set func(*Sample, T)) taker {
	return func(rows []Sample, page parquet.Page) (int, error) {
		values := data(page)
		if len(values) > len(rows) {
			return 0, errShort
		}
		for i, v := range values {
			set(&rows[i], v)
		}
		return len(values), nil
	}
}

func optional[T any](data func(parquet.Page) []T, set func(*Sample, T)) taker {
	return func(rows []Sample, page parquet.Page) (int, error) {
		values, defined := data(page), page.DefinitionLevels()
		if len(defined) > len(rows) {
			return 0, errShort
		}
		next := 0
		for i, d := range defined {
			if d == 0 {
				continue
			}
			if next == len(values) {
				return 0, errShort
			}
			set(&rows[i], values[next])
			next++
		}
		return len(defined), nil
	}
}

func eachPage(chunk parquet.ColumnChunk, rows []Sample, take taker) (err error) {
	pages := chunk.Pages()
	defer func() { err = errors.Join(err, pages.Close()) }()
	for {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			if len(rows) > 0 {
				return errShort
			}
			return nil
		}
		if err != nil {
			return err
		}
		n, err := take(rows, page)
		parquet.Release(page)
		if err != nil {
			return err
		}
		rows = rows[n:]
	}
}

// recoverDamage turns a panic of the decoder on damaged bytes into an error:
// one bad file must not stop the service.
func recoverDamage(where string, err *error) {
	if r := recover(); r != nil {
		*err = fmt.Errorf("%w: %s: %v", store.ErrCorrupt, where, r)
	}
}
