package embedded

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"math"
	"slices"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/archive"
)

var _ store.Feed = (*DB)(nil)

// holdDays is how long sealed scans wait, uncompressed, for a follower that
// has not read them; later it reads them from the archive.
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

// Cursor returns where the named follower stands, making it at the beginning.
func (db *DB) Cursor(ctx context.Context, name string) (c store.Cursor, err error) {
	err = db.read.QueryRowContext(ctx, `SELECT seq, archived, day, series, through FROM cursor WHERE name = ?`, name).
		Scan(&c.Seq, &c.Archived, &c.Day, &c.Series, &c.Through)
	if errors.Is(err, sql.ErrNoRows) {
		return c, db.SetCursor(ctx, name, c)
	}
	return c, fail("read cursor "+name, err)
}

// SetCursor records, durably, how far the named follower has come.
func (db *DB) SetCursor(ctx context.Context, name string, c store.Cursor) error {
	return fail("write cursor "+name, db.execTx(ctx,
		`INSERT OR REPLACE INTO cursor (name, seq, archived, day, series, through, at) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		name, c.Seq, c.Archived, c.Day, c.Series, c.Through, db.now().UnixMicro()))
}

// RemoveCursor forgets a follower, so that nothing is held for it any more.
func (db *DB) RemoveCursor(ctx context.Context, name string) error {
	return fail("remove cursor "+name, db.execTx(ctx, `DELETE FROM cursor WHERE name = ?`, name))
}

// Changes returns about limit values after a cursor and the cursor behind
// them: first the archived days whose scans are gone, one series at a time,
// then scans in order of arrival.
func (db *DB) Changes(ctx context.Context, after store.Cursor, limit int) ([]store.Scan, store.Cursor, error) {
	if err := db.checkIDs(); err != nil {
		return nil, after, err
	}
	db.sealed.gate.RLock()
	defer db.sealed.gate.RUnlock()
	for after.Day != 0 || db.startArchived(&after) {
		scans, next, err := db.archivedChanges(after)
		if err != nil || len(scans) > 0 {
			return scans, next, fail("read changes", err)
		}
		after = next
	}
	scans, next, err := db.hotChanges(ctx, after, limit)
	return scans, next, fail("read changes", err)
}

// startArchived points c at the archived day whose scans were dropped first
// after it; false when there is none.
func (db *DB) startArchived(c *store.Cursor) bool {
	done, first := max(c.Seq, c.Archived), int64(math.MaxInt64)
	for day, d := range db.sealed.days {
		if d.dropped > done && (d.dropped < first || d.dropped == first && day < c.Day) {
			first, c.Day = d.dropped, day
		}
	}
	if first == math.MaxInt64 {
		return false
	}
	c.Series, c.Through = 0, first
	return true
}

// archivedChanges returns the next series of an archived day.
func (db *DB) archivedChanges(c store.Cursor) ([]store.Scan, store.Cursor, error) {
	var next store.ID
	var from *block
	for _, b := range db.sealed.day(c.Day).blocks {
		for _, id := range b.series {
			if id > c.Series && (next == 0 || id < next) {
				next, from = id, b
			}
		}
	}
	if from == nil {
		return nil, store.Cursor{Seq: c.Seq, Archived: c.Through}, nil
	}
	c.Series = next
	samples, err := db.readBlock(from, slices.Index(from.series, next), nil, true)
	scans := make([]store.Scan, len(samples))
	values := make([]store.Value, len(samples))
	for i, s := range samples {
		values[i] = valueOf(next, s)
		scans[i] = store.Scan{Time: time.UnixMicro(s.At).UTC(), ConfigVersion: s.Config, Values: values[i : i+1]}
	}
	return scans, c, err
}

func valueOf(id store.ID, s sample) store.Value {
	v := store.Value{ID: id, Value: s.Value, Quality: s.Quality, Reason: s.Reason}
	if s.Source != archive.NoSource {
		v.Source = time.UnixMicro(s.At + s.Source).UTC()
	}
	return v
}

func (db *DB) hotChanges(ctx context.Context, c store.Cursor, limit int) ([]store.Scan, store.Cursor, error) {
	rows, err := db.read.QueryContext(ctx, `SELECT seq, t, config, layout, body FROM scan WHERE seq > ? ORDER BY seq`, c.Seq)
	if err != nil {
		return nil, c, err
	}
	defer rows.Close()
	var scans []store.Scan
	for n := 0; n < limit && rows.Next(); {
		var s sample
		var layoutID int64
		var raw sql.RawBytes
		if err := rows.Scan(&s.Seq, &s.At, &s.Config, &layoutID, &raw); err != nil {
			return nil, c, err
		}
		c.Seq = s.Seq
		scan, err := db.wholeScan(s, layoutID, raw)
		if err != nil {
			db.skip(s.Seq, err)
			continue
		}
		scans = append(scans, scan)
		n += max(1, len(scan.Values))
	}
	return scans, c, rows.Err()
}

// wholeScan decodes all values of a scan row.
func (db *DB) wholeScan(s sample, layoutID int64, raw []byte) (store.Scan, error) {
	db.mu.Lock()
	l := db.layouts.byID[layoutID]
	db.mu.Unlock()
	b, err := decodeBody(raw, l.ids)
	if err != nil {
		return store.Scan{}, err
	}
	cols := make([]column, len(b.ids))
	all := make(places, len(b.ids))
	for i := range all {
		all[i] = place{i, i}
	}
	if err := all.take(b, s, cols); err != nil {
		return store.Scan{}, err
	}
	scan := store.Scan{Time: time.UnixMicro(s.At).UTC(), ConfigVersion: s.Config, Values: make([]store.Value, len(cols))}
	for i, c := range cols {
		scan.Values[i] = valueOf(b.ids[i], c[0])
	}
	return scan, nil
}

// Waiting returns the time of the oldest change after a cursor, zero when there
// is none, and about how many rows of at most partValues values wait.
func (db *DB) Waiting(ctx context.Context, after store.Cursor) (oldest time.Time, rows int64, err error) {
	db.mu.Lock()
	rows = db.seq - max(after.Seq, after.Archived)
	db.mu.Unlock()
	db.sealed.gate.RLock()
	defer db.sealed.gate.RUnlock()
	if after.Day != 0 || db.startArchived(&after) {
		return time.UnixMicro(after.Day * dayMicros).UTC(), rows, nil
	}
	var at int64
	err = db.read.QueryRowContext(ctx, `SELECT t FROM scan WHERE seq > ? ORDER BY seq LIMIT 1`, after.Seq).Scan(&at)
	if errors.Is(err, sql.ErrNoRows) {
		return time.Time{}, 0, nil
	}
	return time.UnixMicro(at).UTC(), rows, fail("read changes", err)
}

// Follower is how far a reader of all changes has come.
type Follower struct {
	Name   string
	Cursor store.Cursor
	Moved  time.Time
}

// Followers lists the readers of all changes by name.
func (db *DB) Followers(ctx context.Context) ([]Follower, error) {
	rows, err := db.read.QueryContext(ctx, `SELECT name, seq, archived, day, series, through, at FROM cursor`)
	if err != nil {
		return nil, fail("read cursors", err)
	}
	defer rows.Close()
	var out []Follower
	for rows.Next() {
		var f Follower
		var at int64
		if err := rows.Scan(&f.Name, &f.Cursor.Seq, &f.Cursor.Archived, &f.Cursor.Day, &f.Cursor.Series, &f.Cursor.Through, &at); err != nil {
			return nil, fail("read cursors", err)
		}
		f.Moved = time.UnixMicro(at).UTC()
		out = append(out, f)
	}
	slices.SortFunc(out, func(a, b Follower) int { return cmp.Compare(a.Name, b.Name) })
	return out, rows.Err()
}
