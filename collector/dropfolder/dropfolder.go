// Package dropfolder reads tables that another system leaves in a folder, row
// by row, as CSV files.
//
// The folder is only read: no file is moved, marked or removed. What has been
// read is remembered in a file of ours, so that a row is given again rather
// than lost after a crash. A file counts as complete when nobody has written
// to it for a while; one that grows is read on, one that is written anew is
// read from the first row that is newer.
//
// Each Read gives one row. Rows that wait are given one after another, so the
// poll interval should be shorter than the interval of the rows.
package dropfolder

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/stamp"
	"bridlewatch/compare/quantity"
)

// Options describe a folder and how its files are written.
type Options struct {
	Name     string
	Dir      string
	Pattern  string        // of file names, as in "*.csv"
	Settled  time.Duration // nobody has written to the file for this long
	MaxAge   time.Duration // of a row by its own time; 0: any
	Position string        // file that remembers what was read

	TimeColumn   string // name in the header, or "#1" for the first
	Times        stamp.Format
	NoHeader     bool // the first line is a row already
	Comma        rune // between cells; 0: ','
	DecimalComma bool
	Encoding     string   // "utf-8", "windows-1252", "iso-8859-1", "utf-16"; "": utf-8
	Missing      []string // cells that mean "no value", beside the empty one

	// Report is told of every line that could not be used; nil: nobody is.
	Report func(Trouble)
}

// Item is one signal.
type Item struct {
	Tag    collector.Tag
	Column string // name in the header, or "#3" for the third
}

// Trouble is a line, or a whole file, that could not be used.
type Trouble struct {
	File string
	Line int // 0: the file
	What string
}

func (t Trouble) String() string {
	if t.Line == 0 {
		return fmt.Sprintf("%s: %s", t.File, t.What)
	}
	return fmt.Sprintf("%s:%d: %s", t.File, t.Line, t.What)
}

// Source reads the folder. It implements collector.Source.
type Source struct {
	opts    Options
	clock   collector.Clock
	items   []Item
	tags    []collector.Tag
	samples []collector.Sample // the newest

	open     *table // nil: none
	position position
	handed   []mark           // given and not yet remembered, the oldest first
	known    bool             // the position was loaded
	seen     map[string]sight // files that may still be written to

	rows, troubles, late, bytes atomic.Uint64

	mu     sync.Mutex
	recent []collector.Remark // the last troubles
	behind time.Time          // of the last row when it was too old; zero when not
}

var (
	_ collector.Source  = (*Source)(nil)
	_ collector.Counted = (*Source)(nil)
)

// remembered is how many rows are given before the first of them is held to be
// stored and is remembered.
const remembered = 2

// New returns a source. Nothing is read before the first Read.
func New(o Options, items []Item, clock collector.Clock) (*Source, error) {
	if _, err := filepath.Match(o.Pattern, ""); err != nil || o.Dir == "" || o.Position == "" {
		return nil, fmt.Errorf("folder source %q: folder %q, pattern %q, position file %q: all three are needed, and a pattern is one such as *.csv", o.Name, o.Dir, o.Pattern, o.Position)
	}
	if _, err := decoderOf(o.Encoding); err != nil {
		return nil, fmt.Errorf("folder source %q: %w", o.Name, err)
	}
	if o.Comma == 0 {
		o.Comma = ','
	}
	if o.DecimalComma && o.Comma == ',' {
		return nil, fmt.Errorf("folder source %q: a comma cannot stand between cells and in numbers; set the separator", o.Name)
	}
	s := &Source{opts: o, clock: clock, items: items, seen: map[string]sight{}}
	for _, it := range append([]Item{{"the time", o.TimeColumn}}, items...) {
		if it.Column == "" || o.NoHeader && numbered(it.Column) < 0 {
			return nil, fmt.Errorf("folder source %q: column %q of %s: give its name in the header, or #1 for the first; without a header only the latter", o.Name, it.Column, it.Tag)
		}
	}
	for _, it := range items {
		s.tags = append(s.tags, it.Tag)
		s.samples = append(s.samples, collector.Sample{Tag: it.Tag, Quality: quantity.Bad, Reason: quantity.NotRead})
	}
	return s, nil
}

// numbered is the index of a column given as "#3"; -1 when it is a name.
func numbered(column string) int {
	digits, ok := strings.CutPrefix(column, "#")
	n, err := strconv.Atoi(digits)
	if !ok || err != nil || n < 1 {
		return -1
	}
	return n - 1
}

// Name returns the configured name of the source.
func (s *Source) Name() string { return s.opts.Name }

// Tags returns the tags in the order Read gives their samples.
func (s *Source) Tags() []collector.Tag { return s.tags }

// Counters may be called at any time from any goroutine: requests are rows.
func (s *Source) Counters() collector.Counters {
	return collector.Counters{Requests: s.rows.Load(), BadFrames: s.troubles.Load(), StaleFrames: s.late.Load(), BytesReceived: s.bytes.Load()}
}

// keptTroubles is how many lines that could not be used are remembered.
const keptTroubles = 5

var _ collector.Conditioned = (*Source)(nil)

// Condition tells the last lines that could not be used, and when rows are
// too old when their turn comes.
func (s *Source) Condition() collector.Condition {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := collector.Condition{Remarks: s.recent}
	if !s.behind.IsZero() {
		c.Remarks = append(c.Remarks[:len(c.Remarks):len(c.Remarks)], collector.Remark{What: fmt.Sprintf(
			"the last row is of %s, older than max_age: one row is taken a poll, so shorten every if more are written, and put old files into the history with the import command", s.behind.Format(time.RFC3339))})
	}
	return c
}

// overdue says that a row is too old to be used, and counts it.
func (s *Source) overdue(r row, now time.Time) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.opts.MaxAge <= 0 || now.Sub(r.time) <= s.opts.MaxAge {
		s.behind = time.Time{}
		return false
	}
	s.late.Add(1)
	s.behind = r.time
	return true
}

// Read gives the next row, or the samples of the last one when there is none.
func (s *Source) Read(ctx context.Context) ([]collector.Sample, error) {
	if err := s.next(ctx); err != nil {
		now := s.clock.Now()
		out := make([]collector.Sample, len(s.tags))
		for i, t := range s.tags {
			out[i] = collector.Sample{Tag: t, Time: now, Quality: quantity.Bad, Reason: quantity.NotConnected, Detail: err.Error()}
		}
		return out, fmt.Errorf("folder source %q: %w", s.opts.Name, err)
	}
	if s.samples[0].Reason == quantity.NotRead {
		return s.samples, fmt.Errorf("folder source %q: no complete file %s in %s: %w", s.opts.Name, s.opts.Pattern, s.opts.Dir, collector.ErrNotYet)
	}
	return s.samples, nil
}

// next takes one row, of the file that is open or of the next one.
func (s *Source) next(ctx context.Context) error {
	if err := s.remember(remembered); err != nil {
		return err
	}
	for ctx.Err() == nil {
		if s.open == nil {
			if found, err := s.openNext(); !found || err != nil {
				return err
			}
		}
		row, ok := s.open.row(ctx)
		if ok {
			s.rows.Add(1)
			s.take(row)
			s.handed = append(s.handed, s.open.mark)
			return nil
		}
		if ctx.Err() == nil {
			s.handed = append(s.handed, s.open.end())
			s.shut()
		}
	}
	return nil
}

// take makes the samples of a row.
func (s *Source) take(r row) {
	now := s.clock.Now()
	overdue := s.overdue(r, now)
	for i := range s.items {
		sample := collector.Sample{Tag: s.tags[i], Time: now, SourceTime: r.time, Quality: quantity.Good}
		v, err := r.values[i], r.errors[i]
		switch {
		case errors.Is(err, errEmpty):
			sample.Quality, sample.Reason, sample.Detail = quantity.Bad, quantity.Sentinel, "no value in the row"
		case errors.Is(err, errNotANumber):
			sample.Quality, sample.Reason, sample.Detail = quantity.Bad, quantity.NotANumber, err.Error()
		case err != nil:
			sample.Quality, sample.Reason, sample.Detail = quantity.Bad, quantity.BadShape, err.Error()
		case overdue:
			sample.Quality, sample.Reason = quantity.Stale, quantity.TooOld
			sample.Detail = fmt.Sprintf("row of %s, %v old, %v allowed", r.time.Format(time.RFC3339), now.Sub(r.time).Round(time.Second), s.opts.MaxAge)
		default:
			sample.Value = v
		}
		s.samples[i] = sample
	}
}

func (s *Source) trouble(file string, line int, format string, args ...any) {
	t := Trouble{file, line, fmt.Sprintf(format, args...)}
	s.troubles.Add(1)
	s.mu.Lock()
	s.recent = append(s.recent[max(0, len(s.recent)-keptTroubles+1):len(s.recent):len(s.recent)], collector.Remark{What: t.String()})
	s.mu.Unlock()
	if s.opts.Report != nil {
		s.opts.Report(t)
	}
}

func (s *Source) shut() {
	if s.open != nil {
		s.open.file.Close()
		s.open = nil
	}
}

// Close closes the file that is open. After a restart what was given last is
// given again.
func (s *Source) Close() error {
	s.shut()
	return nil
}
