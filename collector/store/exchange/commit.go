package exchange

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

// flush compares the rows read with what is there and stores what is new.
func (r *importRun) flush(ctx context.Context) error {
	if len(r.pending) == 0 {
		return nil
	}
	rows := r.pending
	r.pending = r.pending[:0]
	slices.SortStableFunc(rows, func(a, b importRow) int { return a.at.Compare(b.at) })
	scans := make([]store.Scan, 0, len(rows))
	there, err := r.there(ctx, rows[0].at, rows[len(rows)-1].at)
	if err != nil {
		return err
	}
	for _, row := range rows {
		scan := store.Scan{Time: row.at, ConfigVersion: r.config}
		for i, v := range row.values {
			if v.Quality > 0 && r.fresh(i, row.at, v, there[i]) {
				scan.Values = append(scan.Values, v)
			}
		}
		if len(scan.Values) > 0 {
			scans = append(scans, scan)
		}
	}
	if r.DryRun {
		return nil
	}
	return r.to.AppendBatch(ctx, scans)
}

// there returns, for each column, what is stored in [from, to] by time.
func (r *importRun) there(ctx context.Context, from, to time.Time) ([]map[time.Time]store.Point, error) {
	out := make([]map[time.Time]store.Point, len(r.ids))
	for i, id := range r.ids {
		out[i] = map[time.Time]store.Point{}
		if id == 0 {
			continue // dry run of a series that is not there yet
		}
		points, err := r.to.Points(ctx, id, from, to.Add(time.Microsecond))
		if err != nil {
			return nil, err
		}
		for _, p := range points {
			out[i][p.Time] = p
		}
	}
	return out, nil
}

// fresh counts a value and says whether it is to be stored.
func (r *importRun) fresh(i int, at time.Time, v store.Value, there map[time.Time]store.Point) bool {
	c := &r.report.Columns[i]
	p, ok := there[at]
	switch {
	case !ok:
		c.New++
		there[at] = store.Point{Time: at, Value: v.Value, Quality: v.Quality, Reason: v.Reason}
		return true
	case p.Value == v.Value && p.Quality == v.Quality:
		c.Same++
	default:
		c.Conflicting++
	}
	return false
}

// Undo takes back everything that the import of this ID stored, and nothing
// else. It returns how many values those were.
func Undo(ctx context.Context, to Target, id string) (int, error) {
	docs, err := to.Documents(ctx, store.Query{Kind: documentKind, ID: id, Latest: true})
	if err != nil {
		return 0, fmt.Errorf("undo import %s: %w", id, err)
	}
	if len(docs) == 0 {
		return 0, fmt.Errorf("undo import %s: %w", id, store.ErrNotFound)
	}
	var rec importRecord
	if err := json.Unmarshal(docs[0].Body, &rec); err != nil {
		return 0, fmt.Errorf("undo import %s: %w", id, err)
	}
	ids := make([]store.ID, len(rec.Series))
	for i, n := range rec.Series {
		ids[i] = store.ID(n)
	}
	from, end := rec.From, rec.To.Add(time.Microsecond)
	if rec.State != "done" { // interrupted: its range was not recorded
		from, end = time.Unix(0, 0), time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	n, err := to.Erase(ctx, ids, from, end, rec.Config)
	if err != nil {
		return n, fmt.Errorf("undo import %s: %w", id, err)
	}
	rec.State = "undone"
	return n, putRecord(ctx, to, id, rec)
}

// Imported is an import the store knows of.
type Imported struct {
	ID       string
	State    string // "started", "done", "undone"
	At       time.Time
	From, To time.Time
	Report   *Report // only when it is done
}

// List returns every import, the one that changed last first.
func List(ctx context.Context, from store.Store) ([]Imported, error) {
	docs, err := from.Documents(ctx, store.Query{Kind: documentKind, Latest: true, Newest: true})
	if err != nil {
		return nil, fmt.Errorf("list imports: %w", err)
	}
	var out []Imported
	for _, d := range docs {
		var rec importRecord
		if err := json.Unmarshal(d.Body, &rec); err != nil {
			return nil, fmt.Errorf("record of import %s: %w", d.ID, err)
		}
		out = append(out, Imported{ID: d.ID, State: rec.State, At: d.Time, From: rec.From, To: rec.To, Report: rec.Report})
	}
	return out, nil
}

// gapFinder finds the intervals without a value in one pass. Until it knows
// the usual interval it keeps what it saw.
type gapFinder struct {
	longest time.Duration
	first   []time.Duration
	last    time.Time
	early   []Gap
	gaps    []Gap
	count   int
}

// learn is how many intervals tell the usual one.
const learn = 100

func (g *gapFinder) see(at time.Time) {
	defer func() { g.last = at }()
	if g.last.IsZero() || !at.After(g.last) {
		return
	}
	interval := Gap{g.last, at}
	if g.longest > 0 {
		g.judge(interval)
		return
	}
	g.first, g.early = append(g.first, at.Sub(g.last)), append(g.early, interval)
	if len(g.first) == learn {
		g.settle()
	}
}

// settle takes five times the median as the longest interval that is no gap.
func (g *gapFinder) settle() {
	if g.longest == 0 && len(g.first) > 0 {
		slices.Sort(g.first)
		g.longest = 5 * g.first[len(g.first)/2]
	}
	for _, interval := range g.early {
		g.judge(interval)
	}
	g.early = nil
}

func (g *gapFinder) judge(interval Gap) {
	if interval.To.Sub(interval.From) <= g.longest {
		return
	}
	g.count++
	g.gaps = append(g.gaps, interval)
	if len(g.gaps) > 4*maxGaps {
		g.shorten()
	}
}

// shorten keeps the longest gaps, in order of time.
func (g *gapFinder) shorten() {
	length := func(x Gap) time.Duration { return x.To.Sub(x.From) }
	slices.SortStableFunc(g.gaps, func(a, b Gap) int { return int(length(b) - length(a)) })
	g.gaps = g.gaps[:min(maxGaps, len(g.gaps))]
	slices.SortFunc(g.gaps, func(a, b Gap) int { return a.From.Compare(b.From) })
}

func (r *importRun) finishGaps() {
	for i := range r.gaps {
		g := &r.gaps[i]
		g.settle()
		g.shorten()
		r.report.Columns[i].Gaps, r.report.Columns[i].GapCount = g.gaps, g.count
	}
}
