// Package replay reads history from CSV files as if it were polled now.
//
// Several files are read side by side and merged by time, so each instrument
// may come in a file of its own. Every distinct time becomes one snapshot in
// which each signal has its newest sample; a signal that was not sampled for
// longer than its maximum age is stale. What cannot be read is reported with
// file and line and costs only itself.
package replay

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/stamp"
	"bridlewatch/compare/quantity"
)

// Options say how the files are written.
type Options struct {
	TimeColumn string         // header of the time column; default "time"
	TimeFormat string         // "rfc3339", "epoch" (seconds), "epoch-ms", or a layout in Go's notation
	Zone       *time.Location // of times that name none; default UTC
	Missing    []string       // cells that mean "no value", beside the empty cell
	Comma      rune           // default ','

	DecimalComma bool // numbers are written 1,5
}

func (o Options) stamps() stamp.Format { return stamp.Format{Layout: o.TimeFormat, Zone: o.Zone} }

// Signal is one column that is wanted.
type Signal struct {
	Tag    collector.Tag
	Column string
	MaxAge time.Duration // 0: never stale
}

// Trouble is something in a file that could not be used.
type Trouble struct {
	File string
	Line int
	What string
}

func (t Trouble) String() string { return fmt.Sprintf("%s:%d: %s", t.File, t.Line, t.What) }

// Reader merges the files. It is not safe for concurrent use.
type Reader struct {
	signals  []Signal
	files    []*file
	newest   []collector.Sample
	troubles Troubles
	size     int64
}

// Troubles counts what could not be used and keeps the first of them.
type Troubles struct {
	First []Trouble // at most keepTroubles
	Count int
}

const keepTroubles = 20

func (t *Troubles) add(f string, line int, format string, args ...any) {
	t.Count++
	if len(t.First) < keepTroubles {
		t.First = append(t.First, Trouble{f, line, fmt.Sprintf(format, args...)})
	}
}

// Open opens the files and reads their headers. Every wanted column must be in
// exactly one file.
func Open(paths []string, o Options, signals []Signal) (*Reader, error) {
	if len(paths) == 0 {
		return nil, errors.New("replay: no file given")
	}
	r := &Reader{signals: signals, newest: make([]collector.Sample, len(signals))}
	for i, s := range signals {
		r.newest[i] = collector.Sample{Tag: s.Tag, Quality: quantity.Absent, Reason: quantity.NotRead}
	}
	where := map[string]string{}
	for _, p := range paths {
		f, err := openFile(p, o, signals, &r.troubles)
		if err != nil {
			r.Close()
			return nil, err
		}
		r.files = append(r.files, f)
		r.size += f.size
		for _, c := range f.columns {
			name := signals[c.signal].Column
			if other, ok := where[name]; ok && other != p {
				r.Close()
				return nil, fmt.Errorf("replay: column %q is in %s and in %s; give one of them, or rename the column", name, other, p)
			}
			where[name] = p
		}
	}
	for _, s := range signals {
		if _, ok := where[s.Column]; !ok {
			heads := r.heads()
			r.Close()
			return nil, fmt.Errorf("replay: no file has the column %q of signal %s; the files have %s", s.Column, s.Tag, listed(heads))
		}
	}
	for _, f := range r.files {
		f.advance()
	}
	return r, nil
}

func (r *Reader) heads() []string {
	var all []string
	for _, f := range r.files {
		all = append(all, f.head...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// Next writes the samples of the next instant, in the order of the signals, and
// returns its time, or io.EOF.
func (r *Reader) Next(samples []collector.Sample) (time.Time, error) {
	var at time.Time
	found := false
	for _, f := range r.files {
		if f.err == nil && (!found || f.at.Before(at)) {
			at, found = f.at, true
		}
	}
	if !found {
		return time.Time{}, r.end()
	}
	for _, f := range r.files {
		for f.err == nil && f.at.Equal(at) {
			for _, c := range f.columns {
				if s := f.row[c.signal]; s.Quality != quantity.Absent {
					r.newest[c.signal] = s
				}
			}
			f.advance()
		}
	}
	r.age(at)
	copy(samples, r.newest)
	return at, nil
}

// age turns samples stale that are older than allowed.
func (r *Reader) age(at time.Time) {
	for i := range r.newest {
		s := &r.newest[i]
		if limit := r.signals[i].MaxAge; limit > 0 && s.Quality > quantity.Stale && at.Sub(s.Time) > limit {
			s.Quality, s.Reason = quantity.Stale, quantity.TooOld
		}
	}
}

func (r *Reader) end() error {
	for _, f := range r.files {
		if !errors.Is(f.err, io.EOF) {
			return f.err
		}
	}
	return io.EOF
}

// Progress returns how many of how many bytes have been read.
func (r *Reader) Progress() (done, total int64) {
	for _, f := range r.files {
		done += f.csv.InputOffset()
	}
	return done, r.size
}

// Troubles returns what could not be used so far.
func (r *Reader) Troubles() Troubles { return r.troubles }

// Close closes the files.
func (r *Reader) Close() error {
	var all []error
	for _, f := range r.files {
		all = append(all, f.closer.Close())
	}
	return errors.Join(all...)
}

// column is one wanted column of a file.
type column struct{ index, signal int }

// file is one CSV file with its next row ready.
type file struct {
	name     string
	options  Options
	closer   io.Closer
	csv      *csv.Reader
	head     []string
	time     int // index of the time column
	columns  []column
	troubles *Troubles
	size     int64

	ahead []dated    // rows below, read to tell a stray time
	free  [][]string // records to read the next rows into
	end   error      // how reading ended; the rows ahead are still to come

	at  time.Time
	row []collector.Sample // by signal; Absent where the row has none
	err error              // nothing is left
}

func openFile(path string, o Options, signals []Signal, troubles *Troubles) (*file, error) {
	h, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("replay: %w", err)
	}
	f := &file{name: path, options: o, closer: h, csv: csv.NewReader(h), troubles: troubles, row: make([]collector.Sample, len(signals))}
	if st, err := h.Stat(); err == nil {
		f.size = st.Size()
	}
	f.csv.ReuseRecord = true
	f.csv.FieldsPerRecord = -1
	if o.Comma != 0 {
		f.csv.Comma = o.Comma
	}
	if err := f.readHead(signals); err != nil {
		h.Close()
		return nil, err
	}
	return f, nil
}
