package embedded

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"bridlewatch/collector/store"
)

// Points returns the stored values of one series in [from, to), one for each
// instant, oldest first.
func (db *DB) Points(ctx context.Context, id store.ID, from, to time.Time) ([]store.Point, error) {
	if err := db.checkIDs(id); err != nil {
		return nil, err
	}
	cols, err := db.columns(ctx, []store.ID{id}, from.UnixMicro(), to.UnixMicro())
	if err != nil {
		return nil, err
	}
	out := make([]store.Point, len(cols[0]))
	for i, s := range cols[0] {
		out[i] = s.point()
	}
	return out, nil
}

// Last returns the newest value of each series at or before t; the zero Point
// where there is none.
func (db *DB) Last(ctx context.Context, ids []store.ID, t time.Time) ([]store.Point, error) {
	if err := db.checkIDs(ids...); err != nil {
		return nil, err
	}
	newest, err := db.lastHot(ctx, ids, t.UnixMicro())
	if err != nil {
		return nil, fail("read last values", err)
	}
	out := make([]store.Point, len(ids))
	for i, c := range newest {
		if len(c) > 0 {
			out[i] = c[len(c)-1].point()
		}
	}
	return out, nil
}

// lastHot returns at most one sample for each of ids.
func (db *DB) lastHot(ctx context.Context, ids []store.ID, t int64) ([]column, error) {
	db.mu.Lock()
	layouts := db.layouts.carrying(ids)
	db.mu.Unlock()
	out := make([]column, len(ids))
	for _, l := range layouts {
		var s sample
		var raw []byte
		err := db.read.QueryRowContext(ctx,
			`SELECT seq, t, config, body FROM scan WHERE layout = ? AND t <= ? ORDER BY t DESC, seq DESC LIMIT 1`,
			l.id, t).Scan(&s.seq, &s.at, &s.config, &raw)
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		if err != nil {
			return nil, err
		}
		b, err := decodeBody(raw, l.ids)
		if err != nil {
			return nil, err
		}
		if err := findPlaces(b.ids, ids).take(b, s, out); err != nil {
			return nil, err
		}
	}
	if err := db.readLayout(ctx, layout{}, ids, t-int64(24*time.Hour/time.Microsecond), t+1, out); err != nil {
		return nil, err
	}
	for i := range out {
		out[i] = out[i].settle()
	}
	return out, nil
}

// columns reads the samples of ids in [from, to), settled.
func (db *DB) columns(ctx context.Context, ids []store.ID, from, to int64) ([]column, error) {
	return db.hotColumns(ctx, ids, from, to)
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
