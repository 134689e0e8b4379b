package exchange

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

// Target is where an import goes.
type Target interface {
	store.Store
	store.BatchAppender
	// Erase takes back what was recorded under one configuration version.
	Erase(ctx context.Context, ids []store.ID, from, to time.Time, config uint32) (int, error)
}

// Mapping says which series a column is. Stored is cell x Scale + Offset, in
// the unit of the series.
type Mapping struct {
	Column string
	Series store.Series
	Scale  float64 // 0 means 1
	Offset float64
}

// Import is an export of a historian to be read into history.
type Import struct {
	ID      string // names it for repeating and undoing
	Rows    Rows
	Clock   Clock
	Columns []Mapping
	Decimal rune          // '.' or ','; 0 finds out
	Gap     time.Duration // longest interval between values that is no gap; 0: five times the usual one
	DryRun  bool          // report only; nothing is stored
}

// Report of an import, or of what it would do.
type Report struct {
	ID           string
	DryRun       bool
	Rows         int // read
	From, To     time.Time
	OutOfOrder   int // rows earlier than the one before
	Repeated     int // rows of an instant already seen just before
	Ambiguous    int // times that the clock showed twice
	Columns      []ColumnReport
	Problems     []Problem // the first hundred
	ProblemCount int
}

// ColumnReport of one mapped column.
type ColumnReport struct {
	Column      string
	Series      store.Series
	New         int // values stored, or to be stored
	Same        int // already there
	Conflicting int // another value is there and stays
	Bad         int // cells that are no number: stored as bad values
	Empty       int
	Gaps        []Gap // the longest ten
	GapCount    int
}

// Gap is an interval without a value.
type Gap struct{ From, To time.Time }

// Problem is a row or cell that could not be used.
type Problem struct {
	Line   int
	Column string
	Text   string
	Why    string
}

const (
	maxProblems = 100
	maxGaps     = 10
	batchRows   = 2000
	// Values of import n carry configuration version firstImport + n, in the
	// archive as well, so that what came from where can always be told.
	firstImport = uint32(1) << 31
)

// importRecord is the body of the document "import" of an import's ID.
type importRecord struct {
	Config uint32    `json:"config"`
	State  string    `json:"state"` // "started", "done", "undone"
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Series []int64   `json:"series"`
	Report *Report   `json:"report,omitempty"`
}

const documentKind = "import"

// Run reads an import. Values already there are never changed: the same ones
// are passed over, so that repeating an import does nothing, and others are
// reported. An interrupted import is repeated from its start.
func (im *Import) Run(ctx context.Context, to Target, progress func(rows int)) (Report, error) {
	r := &importRun{Import: im, to: to, clock: clockReader{Clock: im.Clock}, report: Report{ID: im.ID, DryRun: im.DryRun}}
	if err := r.prepare(ctx); err != nil {
		return r.report, fmt.Errorf("import %s: %w", im.ID, err)
	}
	err := r.read(ctx, progress)
	r.finishGaps()
	if err == nil && !im.DryRun {
		err = r.record(ctx, "done")
	}
	if err != nil {
		return r.report, fmt.Errorf("import %s: %w", im.ID, err)
	}
	return r.report, nil
}

// importRun is an import under way.
type importRun struct {
	*Import
	to       Target
	clock    clockReader
	report   Report
	timeCell int
	cells    []int // of each mapping
	ids      []store.ID
	config   uint32
	pending  []importRow
	gaps     []gapFinder
}

// importRow is a parsed row; a value of quality 0 is an empty cell.
type importRow struct {
	at     time.Time
	values []store.Value
}

func (r *importRun) prepare(ctx context.Context) error {
	if r.ID == "" || len(r.Columns) == 0 {
		return errors.New("give the import a name and map at least one column")
	}
	var err error
	if r.timeCell, err = r.place(r.Clock.Column); err != nil {
		return err
	}
	var series []store.Series
	for _, m := range r.Columns {
		i, err := r.place(m.Column)
		if err != nil {
			return err
		}
		r.cells, series = append(r.cells, i), append(series, m.Series)
		r.report.Columns = append(r.report.Columns, ColumnReport{Column: m.Column, Series: m.Series})
		r.gaps = append(r.gaps, gapFinder{longest: r.Gap})
	}
	if r.DryRun {
		return r.findSeries(ctx, series)
	}
	if r.ids, err = r.to.Register(ctx, series); err != nil {
		return err
	}
	return r.number(ctx)
}

func (r *importRun) place(column string) (int, error) {
	i := slices.Index(r.Rows.Columns(), column)
	if i < 0 {
		return 0, fmt.Errorf("no column %q; the file has %q", column, r.Rows.Columns())
	}
	return i, nil
}

// findSeries looks series up without making them; 0 is one that is not there.
func (r *importRun) findSeries(ctx context.Context, series []store.Series) error {
	known, err := r.to.Series(ctx)
	if err != nil {
		return err
	}
	r.ids = make([]store.ID, len(series))
	for id, s := range known {
		for i := range series {
			if series[i] == s {
				r.ids[i] = id
			}
		}
	}
	return nil
}

// number finds the configuration version of the import: its own when it was
// started before, else the next.
func (r *importRun) number(ctx context.Context) error {
	docs, err := r.to.Documents(ctx, store.Query{Kind: documentKind, Latest: true})
	if err != nil {
		return err
	}
	r.config = firstImport
	for _, d := range docs {
		var rec importRecord
		if err := json.Unmarshal(d.Body, &rec); err != nil {
			return fmt.Errorf("record of import %s: %w", d.ID, err)
		}
		if d.ID == r.ID {
			r.config = rec.Config
			break
		}
		r.config = max(r.config, rec.Config+1)
	}
	return r.record(ctx, "started")
}

func (r *importRun) record(ctx context.Context, state string) error {
	rec := importRecord{Config: r.config, State: state, From: r.report.From, To: r.report.To}
	if state == "done" {
		rec.Report = &r.report
	}
	for _, id := range r.ids {
		rec.Series = append(rec.Series, int64(id))
	}
	return putRecord(ctx, r.to, r.ID, rec)
}

func putRecord(ctx context.Context, to store.Store, id string, rec importRecord) error {
	body, err := json.Marshal(rec)
	if err != nil {
		return err
	}
	_, err = to.Put(ctx, store.Document{Kind: documentKind, ID: id, Time: time.Now(), Body: body})
	return err
}

func (r *importRun) read(ctx context.Context, progress func(rows int)) error {
	for {
		line, cells, err := r.Rows.Next()
		if errors.Is(err, io.EOF) {
			return r.flush(ctx)
		}
		if err != nil {
			return err
		}
		r.report.Rows++
		if err := r.take(line, cells); err != nil {
			return err
		}
		if len(r.pending) < batchRows {
			continue
		}
		if err := r.flush(ctx); err != nil {
			return err
		}
		if progress != nil {
			progress(r.report.Rows)
		}
	}
}

// Qualities and the reason of quantity used here.
const (
	bad        = 1
	good       = 4
	notANumber = 6
)
