package embedded

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"time"

	"bridlewatch/collector/store"
)

// Append records one scan in one synced transaction. Late scans and repeated
// times are accepted; a repeated (series, time) replaces the value. It is
// store.ErrInvalid, and nothing is stored, for an unknown series, an unknown
// quality, or a usable value that is not a finite number.
func (db *DB) Append(ctx context.Context, scan store.Scan) error {
	return db.AppendBatch(ctx, []store.Scan{scan})
}

// AppendBatch records scans in one synced transaction: all of them or none.
// One sync then serves many scans.
func (db *DB) AppendBatch(ctx context.Context, scans []store.Scan) error {
	if err := ctx.Err(); err != nil {
		return fail("append", err)
	}
	ctx = context.WithoutCancel(ctx) // a commit takes less than a millisecond: no cancelling in its middle
	db.mu.Lock()
	defer db.mu.Unlock()
	for i := range scans {
		if err := db.check(&scans[i]); err != nil {
			return err
		}
	}
	if err := db.addLayouts(ctx, scans); err != nil {
		return fail("append layout", err)
	}
	if err := db.rows.record(ctx, db, scans); err != nil {
		return fail("append", err)
	}
	now := db.now()
	for i := range scans {
		day := dayOf(scans[i].Time.UnixMicro())
		db.touched[day] = touch{now, db.touched[day].n + 1}
	}
	return nil
}

// check refuses what must not reach history.
func (db *DB) check(scan *store.Scan) error {
	if y := scan.Time.UTC().Year(); y < 1970 || y > 9999 {
		return fmt.Errorf("%w: scan time %s is not between the years 1970 and 9999; set the clock", store.ErrInvalid, scan.Time.Format(time.RFC3339))
	}
	for i := range scan.Values {
		v := &scan.Values[i]
		s, known := db.series.byID[v.ID]
		switch {
		case !known:
			return fmt.Errorf("%w: series %d is not registered", store.ErrInvalid, v.ID)
		case v.Quality > good:
			return fmt.Errorf("%w: %s %s has quality %d, known are 0 to %d", store.ErrInvalid, s.Gauge, s.Name, v.Quality, good)
		case usable(v.Quality) && (math.IsNaN(v.Value) || math.IsInf(v.Value, 0)):
			return fmt.Errorf("%w: %s %s is %v with a usable quality; mark it bad", store.ErrInvalid, s.Gauge, s.Name, v.Value)
		}
	}
	return nil
}

// addLayouts stores the lists of series that scans bring for the first time.
func (db *DB) addLayouts(ctx context.Context, scans []store.Scan) error {
	for i := range scans {
		for n, values := 0, scans[i].Values; len(values) > 0; n++ {
			part := values[:min(partValues, len(values))]
			values = values[len(part):]
			if _, ok := db.layouts.find(n, part); ok || len(db.layouts.byID) >= maxLayouts {
				continue
			}
			if err := db.addLayout(ctx, part); err != nil {
				return err
			}
		}
	}
	return nil
}

func (db *DB) addLayout(ctx context.Context, values []store.Value) error {
	key := encodeIDs(values)
	var id int64
	err := db.inTx(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, `INSERT INTO layout (series) VALUES (?)`, key)
		if err == nil {
			id, err = r.LastInsertId()
		}
		return err
	})
	if err == nil {
		db.layouts.add(layout{id, decodeIDs(key)}, string(key))
	}
	return err
}
