package embedded

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"bridlewatch/collector/store"
)

// settleTime is how long no scan of a past day may have come before it is
// sealed, so that an import does not reseal a day again and again.
const settleTime = 10 * time.Minute

// Notice is something a person should know about the history.
type Notice struct {
	Time time.Time
	Text string
}

const maxNotices = 200

type noticeBoard struct {
	mu   sync.Mutex
	list []Notice
}

// notice logs and keeps a message; a repeated one is kept once.
func (db *DB) notice(format string, args ...any) {
	n := Notice{db.now().UTC(), fmt.Sprintf(format, args...)}
	b := &db.notices
	b.mu.Lock()
	defer b.mu.Unlock()
	if slices.ContainsFunc(b.list, func(o Notice) bool { return o.Text == n.Text }) {
		return
	}
	db.log.Error(n.Text)
	b.list = append(b.list, n)
	b.list = b.list[max(0, len(b.list)-maxNotices):]
}

// Notices returns what went wrong since the start, oldest first: damaged
// files set aside, scans that could not be read.
func (db *DB) Notices() []Notice {
	db.notices.mu.Lock()
	defer db.notices.mu.Unlock()
	return slices.Clone(db.notices.list)
}

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

// asideDir holds damaged and unknown files; nothing in it is read.
const asideDir = "aside"

func (db *DB) moveAside(name string) {
	to := filepath.Join(db.dir, asideDir, strings.ReplaceAll(name, string(filepath.Separator), "_"))
	err := os.MkdirAll(filepath.Dir(to), 0o750)
	if err == nil {
		err = os.Rename(filepath.Join(db.dir, name), to)
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		db.log.Warn("file not set aside", "file", name, "err", err)
	}
}

// setAside takes damaged blocks out of the manifest.
func (db *DB) setAside(ctx context.Context) error {
	var damaged []*block
	for _, d := range db.sealed.days {
		for _, b := range d.blocks {
			if b.damaged.Load() {
				damaged = append(damaged, b)
			}
		}
	}
	for _, b := range damaged {
		if err := db.setBlockAside(ctx, b); err != nil {
			return fail("set "+b.file+" aside", err)
		}
	}
	return nil
}

func (db *DB) setBlockAside(ctx context.Context, b *block) error {
	db.sealed.gate.Lock()
	defer db.sealed.gate.Unlock()
	if err := db.execTx(ctx, `UPDATE block SET state = 'damaged', note = 'does not match its checksum' WHERE id = ?`, b.id); err != nil {
		return err
	}
	db.sealed.remove(b)
	db.moveAside(b.file)
	return nil
}

// recentDays is how many of the newest days are verified at the start; the
// others are when first read, and by VerifyArchive.
const recentDays = 3

// cleanArchive removes unfinished files, sets unknown ones aside, notices
// missing or resized ones and verifies the newest.
func (db *DB) cleanArchive(ctx context.Context) error {
	known, err := db.knownFiles(ctx)
	if err != nil {
		return err
	}
	root := filepath.Join(db.dir, "archive")
	err = filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		name, err := filepath.Rel(db.dir, path)
		switch {
		case err != nil:
			return err
		case strings.HasSuffix(name, unfinished):
			return os.Remove(path)
		case !known[name]:
			db.notice("archive file %s is not in the manifest and was set aside", name)
			db.moveAside(name)
		}
		return nil
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return db.checkFiles(ctx)
}

func (db *DB) knownFiles(ctx context.Context) (map[string]bool, error) {
	rows, err := db.write.QueryContext(ctx, `SELECT file FROM block WHERE state <> 'damaged'`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	known := map[string]bool{}
	for rows.Next() {
		var file string
		if err := rows.Scan(&file); err != nil {
			return nil, err
		}
		known[file] = true
	}
	return known, rows.Err()
}

func (db *DB) checkFiles(ctx context.Context) error {
	order := db.sealed.order
	newest := order[max(0, len(order)-recentDays):]
	for _, day := range order {
		for _, b := range db.sealed.days[day].blocks {
			st, err := os.Stat(filepath.Join(db.dir, b.file))
			if err != nil || st.Size() != b.bytes || slices.Contains(newest, day) {
				db.verify(b)
			}
		}
	}
	return db.setAside(ctx)
}

// verify compares a file with its checksum and remembers damage.
func (db *DB) verify(b *block) {
	b.verified.Store(false)
	f, err := openBlock(filepath.Join(db.dir, b.file), b)
	if err == nil {
		_ = f.os.Close() // only read
		return
	}
	if errors.Is(err, store.ErrCorrupt) || errors.Is(err, fs.ErrNotExist) {
		b.damaged.Store(true)
		db.notice("archive file %s of %s is damaged and set aside: %v", b.file, dayName(b.day), err)
	} else {
		db.log.Warn("archive file not verified", "file", b.file, "err", err)
	}
}

// VerifyArchive compares every archive file with its checksum, calling
// progress after each, and sets damaged ones aside. It returns how many were
// damaged.
func (db *DB) VerifyArchive(ctx context.Context, progress func(done, total int)) (damaged int, err error) {
	db.keep.Lock()
	defer db.keep.Unlock()
	var blocks []*block
	for _, day := range db.sealed.order {
		blocks = append(blocks, db.sealed.days[day].blocks...)
	}
	for i, b := range blocks {
		if err := ctx.Err(); err != nil {
			return damaged, err
		}
		if db.verify(b); b.damaged.Load() {
			damaged++
		}
		if progress != nil {
			progress(i+1, len(blocks))
		}
	}
	return damaged, db.setAside(ctx)
}
