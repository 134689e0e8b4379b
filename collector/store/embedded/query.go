package embedded

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

// Points returns the stored values of one series in [from, to), one for each
// instant, oldest first.
func (db *DB) Points(ctx context.Context, id store.ID, from, to time.Time) ([]store.Point, error) {
	if err := db.checkIDs(id); err != nil {
		return nil, err
	}
	db.sealed.gate.RLock()
	defer db.sealed.gate.RUnlock()
	cols, err := db.columns(ctx, []store.ID{id}, from.UnixMicro(), to.UnixMicro(), false)
	if err != nil {
		return nil, err
	}
	out := make([]store.Point, len(cols[0]))
	for i, s := range cols[0] {
		out[i] = pointOf(s)
	}
	return out, nil
}

// Scans puts the stored values of series in [from, to) back together by instant
// and configuration version, oldest first.
func (db *DB) Scans(ctx context.Context, ids []store.ID, from, to time.Time) ([]store.Scan, error) {
	if err := db.checkIDs(ids...); err != nil {
		return nil, err
	}
	scans, err := db.rawScans(ctx, ids, from.UnixMicro(), to.UnixMicro())
	if err != nil {
		return nil, fail("read scans", err)
	}
	return scans, nil
}

// Extent returns when history begins and ends, the end exclusive: to the instant
// of a scan, or to the day where it is in the archive. Both are the zero time
// where there is none.
func (db *DB) Extent(ctx context.Context) (begin, end time.Time, err error) {
	if err := db.checkIDs(); err != nil {
		return begin, end, err
	}
	db.sealed.gate.RLock()
	defer db.sealed.gate.RUnlock()
	var first, last sql.NullInt64
	if err := db.read.QueryRowContext(ctx, `SELECT min(t), max(t) + 1 FROM scan`).Scan(&first, &last); err != nil {
		return begin, end, fail("look for the oldest and the newest scan", err)
	}
	if days := db.sealed.order; len(days) > 0 {
		oldest, newest := days[0]*dayMicros, (days[len(days)-1]+1)*dayMicros
		if !first.Valid {
			first, last = sql.NullInt64{Int64: oldest, Valid: true}, sql.NullInt64{Int64: newest, Valid: true}
		}
		first.Int64, last.Int64 = min(first.Int64, oldest), max(last.Int64, newest)
	}
	if !first.Valid {
		return begin, end, nil
	}
	return time.UnixMicro(first.Int64).UTC(), time.UnixMicro(last.Int64).UTC(), nil
}

// Last returns the newest value of each series at or before t; the zero Point
// where there is none.
func (db *DB) Last(ctx context.Context, ids []store.ID, t time.Time) ([]store.Point, error) {
	if err := db.checkIDs(ids...); err != nil {
		return nil, err
	}
	db.sealed.gate.RLock()
	defer db.sealed.gate.RUnlock()
	newest, err := db.lastHot(ctx, ids, t.UnixMicro())
	if err != nil {
		return nil, fail("read last values", err)
	}
	out := make([]store.Point, len(ids))
	for i, c := range newest {
		last := db.lastSealed
		if len(c) > 0 && erased(c[0]) {
			last = func(id store.ID, t int64, _ column) (sample, bool, error) { return db.lastKept(ctx, id, t) }
		}
		s, ok, err := last(ids[i], t.UnixMicro(), c)
		if err != nil {
			return nil, fail("read last values", err)
		}
		if ok {
			out[i] = pointOf(s)
		}
	}
	return out, nil
}

// lastSealed returns the newest of hot, which has at most one sample, and what
// is sealed, at or before t.
func (db *DB) lastSealed(id store.ID, t int64, hot column) (s sample, ok bool, err error) {
	oldest := int64(math.MinInt64)
	if len(hot) > 0 {
		s, ok, oldest = hot[0], true, hot[0].At
	}
	days := db.sealed.order
	for i := len(days) - 1; i >= 0 && (days[i]+1)*dayMicros > oldest; i-- {
		if days[i] > dayOf(t) {
			continue
		}
		out := make([]column, 1)
		if err := db.sealedColumns(days[i], []store.ID{id}, oldest, t+1, false, out); err != nil {
			return s, ok, err
		}
		if c := out[0].settle(); len(c) > 0 && c[len(c)-1].At > oldest {
			return c[len(c)-1], true, nil
		} else if len(c) > 0 {
			break
		}
	}
	return s, ok, nil
}

// lastKept looks back day by day past what was erased.
func (db *DB) lastKept(ctx context.Context, id store.ID, t int64) (s sample, ok bool, err error) {
	for _, day := range slices.Backward(db.daysBefore(t)) {
		cols, err := db.columns(ctx, []store.ID{id}, day*dayMicros, min(t+1, (day+1)*dayMicros), false)
		if err != nil {
			return s, false, err
		}
		if c := cols[0]; len(c) > 0 {
			return c[len(c)-1], true, nil
		}
	}
	return s, false, nil
}

// daysBefore returns the days that hold anything, up to that of t.
func (db *DB) daysBefore(t int64) []int64 {
	days := slices.Clone(db.sealed.order)
	db.mu.Lock()
	for day := range db.touched {
		days = append(days, day)
	}
	db.mu.Unlock()
	slices.Sort(days)
	days = slices.Compact(days)
	i, _ := slices.BinarySearch(days, dayOf(t)+1)
	return days[:i]
}

// lastHot returns at most one unsealed sample for each of ids.
func (db *DB) lastHot(ctx context.Context, ids []store.ID, t int64) ([]column, error) {
	db.mu.Lock()
	layouts := db.layouts.carrying(ids)
	db.mu.Unlock()
	out := make([]column, len(ids))
	for _, l := range layouts {
		if err := db.lastOfLayout(ctx, l, ids, t, out); err != nil {
			return nil, err
		}
	}
	if err := db.readLayout(ctx, layout{}, ids, t-int64(24*time.Hour/time.Microsecond), t+1, out); err != nil {
		return nil, err
	}
	for i := range out {
		if out[i] = out[i].arrange(); len(out[i]) > 1 {
			out[i] = out[i][len(out[i])-1:]
		}
	}
	return out, nil
}

// lastOfLayout appends the newest readable scan of a layout.
func (db *DB) lastOfLayout(ctx context.Context, l layout, ids []store.ID, t int64, out []column) error {
	rows, err := db.read.QueryContext(ctx,
		`SELECT seq, t, config, body FROM scan WHERE layout = ? AND t <= ? ORDER BY t DESC, seq DESC`, l.id, t)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var s sample
		var raw sql.RawBytes
		if err := rows.Scan(&s.Seq, &s.At, &s.Config, &raw); err != nil {
			return err
		}
		if s.Seq <= db.sealed.through(s.At) {
			continue
		}
		b, err := decodeBody(raw, l.ids)
		if err == nil {
			err = findPlaces(b.ids, ids).take(b, s, out)
		}
		if err == nil {
			return nil
		}
		db.skip(s.Seq, err)
	}
	return rows.Err()
}

func (db *DB) checkIDs(ids ...store.ID) error {
	db.mu.Lock()
	defer db.mu.Unlock()
	if db.closed {
		return store.ErrClosed
	}
	for _, id := range ids {
		if _, ok := db.series.byID[id]; !ok {
			return fmt.Errorf("%w: series %d is not registered", store.ErrNotFound, id)
		}
	}
	return nil
}
