package embedded

import (
	"context"
	"database/sql"
)

// dropSpent deletes the sealed scans that no cursor needs any more.
func (db *DB) dropSpent(ctx context.Context) error {
	for day, done := range db.spent {
		through := db.sealed.day(day).through
		upTo, err := db.needed(ctx, day, through)
		if err == nil && upTo > done {
			err = db.dropSealed(ctx, day, upTo)
		}
		if err != nil {
			return fail("drop sealed scans of "+dayName(day), err)
		}
		if db.spent[day] = upTo; upTo == through {
			delete(db.spent, day)
		}
	}
	return nil
}

// dropRows is how many sealed scans are deleted in one transaction, so that
// appending waits for milliseconds only.
const dropRows = 4000

// dropSealed deletes the scans of a day up to a seq. Followers learn of it
// first, so that none looks for a scan that is gone.
func (db *DB) dropSealed(ctx context.Context, day, upTo int64) error {
	if err := db.keepDamaged(ctx); err != nil {
		return err
	}
	if err := db.noteDropped(ctx, day, upTo); err != nil {
		return err
	}
	db.mu.Lock()
	layouts := append(db.layouts.all(), layout{})
	db.mu.Unlock()
	for _, l := range layouts {
		for n := int64(dropRows); n == dropRows; {
			var err error
			if n, err = db.dropSome(ctx, l, day, upTo); err != nil {
				return err
			}
		}
	}
	return db.execTx(ctx, `DELETE FROM minute WHERE t >= ? AND t < ?`, day*dayMicros, (day+1)*dayMicros)
}

func (db *DB) noteDropped(ctx context.Context, day, upTo int64) error {
	db.sealed.gate.Lock()
	defer db.sealed.gate.Unlock()
	if err := db.execTx(ctx, `UPDATE sealed SET dropped = max(dropped, ?) WHERE day = ?`, upTo, day); err != nil {
		return err
	}
	d := db.sealed.enter(day)
	d.dropped = max(d.dropped, upTo)
	return nil
}

func (db *DB) dropSome(ctx context.Context, l layout, day, upTo int64) (n int64, err error) {
	db.mu.Lock()
	defer db.mu.Unlock()
	err = db.inTx(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx,
			`DELETE FROM scan WHERE seq IN (SELECT seq FROM scan WHERE layout = ? AND t >= ? AND t < ? AND seq <= ? LIMIT ?)`,
			l.id, day*dayMicros, (day+1)*dayMicros, upTo, dropRows)
		if err == nil {
			n, err = r.RowsAffected()
		}
		return err
	})
	return n, err
}
