package embedded

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

// Recomputation computes levels again from the samples kept, after a data
// sheet or a density was corrected.
type Recomputation struct {
	Name     string     // the same name and range go on where they were interrupted
	Inputs   []store.ID // samples to read
	From, To time.Time
	// Warmup is how long before From, or before where an interrupted run goes
	// on, Compute is fed to find its state; what it returns is not stored.
	Warmup time.Duration
	// Compute maps the samples of some instants to the values that follow from
	// them, instant by instant. It is called in order of time.
	Compute func(raw []store.Scan) (derived []store.Scan, err error)
}

// Progress of a recomputation.
type Progress struct {
	Day         time.Time // the UTC day just finished
	Done, Total int       // days
	Scans       int       // stored so far in this run
}

// recomputeState is what is kept of an interrupted recomputation.
type recomputeState struct {
	From, To time.Time
	Next     int64 // day
}

// Recompute runs a recomputation day by day. The earlier generation of each
// day is kept beside the new one. When ctx ends it stops after a whole day at
// most was lost; the same call goes on from there. Followers hear the new
// values as corrections.
func (db *DB) Recompute(ctx context.Context, r Recomputation, progress func(Progress)) error {
	if r.Name == "" || r.Compute == nil || !r.From.Before(r.To) {
		return fmt.Errorf("%w: a recomputation needs a name, a function, and from before to", store.ErrInvalid)
	}
	if err := db.checkIDs(r.Inputs...); err != nil {
		return err
	}
	state, err := db.recomputeState(ctx, r)
	if err != nil {
		return fail("recompute "+r.Name, err)
	}
	first, last := dayOf(r.From.UnixMicro()), dayOf(r.To.UnixMicro()-1)
	if err := db.warmUp(ctx, r, max(r.From.UnixMicro(), state.Next*dayMicros)); err != nil {
		return fail("recompute "+r.Name, err)
	}
	scans := 0
	for ; state.Next <= last; state.Next++ {
		n, err := db.recomputeDay(ctx, r, state.Next)
		if err != nil {
			return fail("recompute "+r.Name+" "+dayName(state.Next), err)
		}
		scans += n
		if err := db.saveRecompute(ctx, r.Name, recomputeState{r.From, r.To, state.Next + 1}); err != nil {
			return err
		}
		if progress != nil {
			progress(Progress{time.UnixMicro(state.Next * dayMicros).UTC(), int(state.Next - first + 1), int(last - first + 1), scans})
		}
	}
	return db.execTx(ctx, `DELETE FROM meta WHERE key = ?`, recomputeKey(r.Name))
}

func recomputeKey(name string) string { return "recompute " + name }

func (db *DB) recomputeState(ctx context.Context, r Recomputation) (recomputeState, error) {
	fresh := recomputeState{r.From.UTC(), r.To.UTC(), dayOf(r.From.UnixMicro())}
	var text string
	err := db.read.QueryRowContext(ctx, `SELECT value FROM meta WHERE key = ?`, recomputeKey(r.Name)).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return fresh, nil
	}
	var s recomputeState
	if err == nil {
		err = json.Unmarshal([]byte(text), &s)
	}
	if err != nil || !s.From.Equal(r.From) || !s.To.Equal(r.To) {
		return fresh, err
	}
	return s, nil
}

func (db *DB) saveRecompute(ctx context.Context, name string, s recomputeState) error {
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	return db.execTx(ctx, `INSERT OR REPLACE INTO meta (key, value) VALUES (?, ?)`, recomputeKey(name), string(text))
}

func (db *DB) warmUp(ctx context.Context, r Recomputation, at int64) error {
	for from := at - r.Warmup.Microseconds(); from < at; from += hourMicros {
		scans, err := db.rawScans(ctx, r.Inputs, from, min(at, from+hourMicros))
		if err != nil {
			return err
		}
		if _, err := r.Compute(scans); err != nil {
			return err
		}
	}
	return nil
}

// recomputeDay stores the values of a day and seals it as a new generation.
func (db *DB) recomputeDay(ctx context.Context, r Recomputation, day int64) (n int, err error) {
	db.keep.Lock()
	defer db.keep.Unlock()
	if err := db.sealDay(ctx, day, false); err != nil {
		return 0, err // what is there becomes the earlier generation
	}
	from, to := max(r.From.UnixMicro(), day*dayMicros), min(r.To.UnixMicro(), (day+1)*dayMicros)
	for ; from < to; from += hourMicros {
		scans, err := db.rawScans(ctx, r.Inputs, from, min(to, from+hourMicros))
		if err != nil {
			return n, err
		}
		batch, err := r.Compute(scans)
		if err != nil {
			return n, err
		}
		batch = slices.DeleteFunc(batch, func(s store.Scan) bool { return len(s.Values) == 0 })
		if err := db.AppendBatch(ctx, batch); err != nil {
			return n, err
		}
		n += len(batch)
	}
	if err := db.sealDay(ctx, day, true); err != nil {
		return n, err
	}
	db.spent[day] = -1
	return n, db.dropSpent(ctx)
}

// rawScans puts the samples of ids in [from, to) back together by instant and
// configuration version.
func (db *DB) rawScans(ctx context.Context, ids []store.ID, from, to int64) ([]store.Scan, error) {
	db.sealed.gate.RLock()
	cols, err := db.columns(ctx, ids, from, to, true)
	db.sealed.gate.RUnlock()
	if err != nil {
		return nil, err
	}
	type key struct {
		at     int64
		config uint32
	}
	at := map[key]*store.Scan{}
	var keys []key
	for i, c := range cols {
		for _, s := range c {
			k := key{s.At, s.Config}
			scan := at[k]
			if scan == nil {
				scan = &store.Scan{Time: time.UnixMicro(s.At).UTC(), ConfigVersion: s.Config}
				at[k] = scan
				keys = append(keys, k)
			}
			scan.Values = append(scan.Values, valueOf(ids[i], s))
		}
	}
	slices.SortFunc(keys, func(a, b key) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.config, b.config)) })
	out := make([]store.Scan, len(keys))
	for i, k := range keys {
		out[i] = *at[k]
	}
	return out, nil
}

// Generation is a set of values of one series that a recomputation replaced.
type Generation struct {
	Number int
	Points []store.Point
}

// Earlier returns what recomputations replaced of one series in [from, to),
// the oldest generation first.
func (db *DB) Earlier(ctx context.Context, id store.ID, from, to time.Time) ([]Generation, error) {
	if err := db.checkIDs(id); err != nil {
		return nil, err
	}
	db.keep.Lock() // files of earlier generations stay meanwhile
	defer db.keep.Unlock()
	blocks, err := db.keptBlocks(ctx, dayOf(from.UnixMicro()), dayOf(to.UnixMicro()-1))
	if err != nil {
		return nil, fail("read earlier generations", err)
	}
	byNumber := map[int]column{}
	for _, b := range blocks {
		i := slices.Index(b.series, id)
		if i < 0 {
			continue
		}
		c, err := db.readBlock(b, i, nil, false)
		if err != nil {
			return nil, err
		}
		byNumber[b.generation] = append(byNumber[b.generation], clip(c, 0, from.UnixMicro(), to.UnixMicro())...)
	}
	var out []Generation
	for n, c := range byNumber {
		g := Generation{Number: n}
		for _, s := range c.settle() {
			g.Points = append(g.Points, pointOf(s))
		}
		out = append(out, g)
	}
	slices.SortFunc(out, func(a, b Generation) int { return a.Number - b.Number })
	return out, nil
}

func (db *DB) keptBlocks(ctx context.Context, from, to int64) ([]*block, error) {
	rows, err := db.read.QueryContext(ctx, `SELECT id, day, generation, file, bytes, sha256, series FROM block WHERE state = 'kept' AND day >= ? AND day <= ?`, from, to)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []*block
	for rows.Next() {
		b, series := &block{}, []byte(nil)
		if err := rows.Scan(&b.id, &b.day, &b.generation, &b.file, &b.bytes, &b.sum, &series); err != nil {
			return nil, err
		}
		b.series = decodeIDs(series)
		out = append(out, b)
	}
	return out, rows.Err()
}
