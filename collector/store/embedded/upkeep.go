package embedded

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

// settleTime is how long no scan of a past day may have come before it is
// sealed, so that an import does not reseal a day again and again.
const settleTime = 10 * time.Minute

func (db *DB) startUpkeep(every time.Duration) {
	if every < 0 {
		return
	}
	if every == 0 {
		every = 5 * time.Second
	}
	ctx, stop := context.WithCancel(context.Background())
	db.stop = stop
	db.stopped.Add(1)
	go func() {
		defer db.stopped.Done()
		tick := time.NewTicker(every)
		defer tick.Stop()
		last := ""
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			now := ""
			if err := db.Upkeep(ctx); err != nil && ctx.Err() == nil {
				now = err.Error()
			}
			if now != last && now != "" {
				db.log.Error("history upkeep", "err", now)
			}
			last = now
		}
	}()
}

// Upkeep does what is due: it sets damaged files aside, seals finished
// days, drops sealed scans, applies retention and summarises finished minutes.
// It runs by itself; calling it brings it forward.
func (db *DB) Upkeep(ctx context.Context) error {
	db.keep.Lock()
	defer db.keep.Unlock()
	if db.cramped {
		return fmt.Errorf("%w: history is kept up once there is room", store.ErrFull)
	}
	now := db.now()
	return errors.Join(
		db.setAside(ctx),
		db.sealDue(ctx, now),
		db.dropSpent(ctx),
		db.retire(ctx, now),
		db.summariseMinutes(ctx, now),
	)
}

// SealBefore seals every day that ended before t, whatever its age: after an
// import, or before the disk is taken elsewhere.
func (db *DB) SealBefore(ctx context.Context, t time.Time) error {
	db.keep.Lock()
	defer db.keep.Unlock()
	if db.cramped {
		return fmt.Errorf("%w: nothing is sealed before there is room", store.ErrFull)
	}
	for _, day := range db.touchedDays(func(day int64, _ time.Time) bool { return (day+1)*dayMicros <= t.UnixMicro() }) {
		if err := db.sealAndDrop(ctx, day); err != nil {
			return err
		}
	}
	return nil
}

func (db *DB) sealDue(ctx context.Context, now time.Time) error {
	due := func(day int64, last time.Time) bool {
		end := time.UnixMicro((day + 1) * dayMicros)
		return !now.Before(end.Add(db.sealAfter)) && (now.Sub(last) >= settleTime || now.Before(last))
	}
	for _, day := range db.touchedDays(due) {
		if err := db.sealAndDrop(ctx, day); err != nil {
			return err
		}
	}
	return nil
}

// touchedDays returns the days that may have unsealed scans and satisfy due,
// oldest first.
func (db *DB) touchedDays(due func(day int64, last time.Time) bool) []int64 {
	db.mu.Lock()
	defer db.mu.Unlock()
	var days []int64
	for day, t := range db.touched {
		if due(day, t.last) {
			days = append(days, day)
		}
	}
	slices.Sort(days)
	return days
}

func (db *DB) sealAndDrop(ctx context.Context, day int64) error {
	db.mu.Lock()
	before := db.touched[day]
	db.mu.Unlock()
	if err := db.sealDay(ctx, day, false); err != nil {
		return err
	}
	db.mu.Lock()
	if db.touched[day] == before {
		delete(db.touched, day)
	}
	db.mu.Unlock()
	db.spent[day] = -1
	return db.dropSpent(ctx)
}

func (db *DB) execTx(ctx context.Context, statement string, args ...any) error {
	db.mu.Lock()
	defer db.mu.Unlock()
	return db.inTx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, statement, args...)
		return err
	})
}

// loadTouched finds the days that have scans, by one index probe for each
// layout and day.
func (db *DB) loadTouched(ctx context.Context) error {
	db.touched, db.spent = map[int64]touch{}, map[int64]int64{}
	for _, l := range append(db.layouts.all(), layout{}) {
		for at := int64(-1 << 62); ; {
			var t sql.NullInt64
			err := db.write.QueryRowContext(ctx, `SELECT min(t) FROM scan WHERE layout = ? AND t >= ?`, l.id, at).Scan(&t)
			if err != nil {
				return err
			}
			if !t.Valid {
				break
			}
			db.touched[dayOf(t.Int64)] = touch{}
			at = (dayOf(t.Int64) + 1) * dayMicros
		}
	}
	return nil
}
