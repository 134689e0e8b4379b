package embedded

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"time"
)

// holdDays is how long sealed scans wait, uncompressed, for a cursor that has
// not read them; later they are read from the archive.
const holdDays = 7

// needed returns up to which seq the sealed scans of a day may be dropped.
func (db *DB) needed(ctx context.Context, day, through int64) (int64, error) {
	if dayOf(db.now().UnixMicro())-day > holdDays {
		return through, nil
	}
	var slowest sql.NullInt64
	if err := db.read.QueryRowContext(ctx, `SELECT min(seq) FROM cursor`).Scan(&slowest); err != nil {
		return 0, err
	}
	if slowest.Valid {
		return min(through, slowest.Int64), nil
	}
	return through, nil
}

// Cursor returns how far the named reader has come, making it at 0: it will
// see everything stored from the beginning.
func (db *DB) Cursor(ctx context.Context, name string) (seq int64, err error) {
	err = db.read.QueryRowContext(ctx, `SELECT seq FROM cursor WHERE name = ?`, name).Scan(&seq)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, db.SetCursor(ctx, name, 0)
	}
	return seq, fail("read cursor "+name, err)
}

// SetCursor records, durably, that the named reader is done up to seq.
func (db *DB) SetCursor(ctx context.Context, name string, seq int64) error {
	if seq < 0 || seq == math.MaxInt64 {
		return errors.New("cursor out of range")
	}
	return fail("write cursor "+name, db.execTx(ctx, `INSERT OR REPLACE INTO cursor (name, seq, at) VALUES (?, ?, ?)`,
		name, seq, db.now().UTC().Truncate(time.Microsecond).UnixMicro()))
}
