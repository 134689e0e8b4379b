package embedded

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/gofrs/flock"

	"bridlewatch/collector/store"
)

// A store is cramped when its disk was full when it was opened: SQLite needs a
// new file beside the database to open it the usual way. What is there is read,
// and written as far as it goes, through the one connection that needs no such
// file. Where there is nothing to read yet, or a migration would need room, the
// store is in memory. Nothing is sealed, summarised or dropped. Who opened it
// opens it again once there is room.

// roomForWork is what must fit on the disk before a store is opened the usual
// way: SQLite's index of its log, the log's growth, and the small files beside.
const roomForWork = 1 << 20

// inMemory is the name of a database without a file.
const inMemory = ":memory:"

// memoryPages bounds a store in memory, in pages of 4 KiB.
const memoryPages = 4096

// HasRoom reports whether a file of roomForWork fits into dir. It writes one,
// because quotas and the end of inodes do not show in the free space.
func HasRoom(dir string) bool {
	file := filepath.Join(dir, "room")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return !store.NoRoom(err)
	}
	f, err := os.OpenFile(file, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return !store.NoRoom(err)
	}
	_, err = f.Write(make([]byte, roomForWork))
	err = errors.Join(err, f.Sync(), f.Close(), os.Remove(file))
	return !store.NoRoom(err)
}

// openCramped opens what a full disk lets be opened; full is why the usual way
// failed.
func (db *DB) openCramped(ctx context.Context, full error) error {
	db.cramped = true
	file := filepath.Join(db.dir, historyFile)
	err := db.startCramped(ctx, alone(file))
	if err != nil {
		if errors.Is(err, store.ErrCorrupt) {
			return err
		}
		db.log.Error("history cannot be read on a full disk; until there is room it begins anew, in memory", "error", err)
		if err := db.openInMemory(ctx); err != nil {
			return err
		}
	}
	db.log.Error("the disk is full: history could not be opened as usual", "dir", db.dir, "in memory", db.inMemory, "error", full)
	return nil
}

func (db *DB) openInMemory(ctx context.Context) error {
	db.cramped, db.inMemory = true, true
	return db.startCramped(ctx, name(inMemory, "immediate", []string{fmt.Sprintf("max_page_count(%d)", memoryPages)}))
}

// alone names a database for a connection that nobody shares it with: the index
// of the log is in memory then. The driver sets pragmas in the order of the
// alphabet, so that nothing before "locking_mode" may look into the database.
func alone(file string) string {
	return name(file, "immediate", []string{"locking_mode(EXCLUSIVE)"})
}

// startCramped reads and writes through one connection.
func (db *DB) startCramped(ctx context.Context, source string) (err error) {
	if err := db.closeConnections(); err != nil {
		return err
	}
	if db.write, err = sql.Open("sqlite", source); err != nil {
		return err
	}
	db.write.SetMaxOpenConns(1)
	db.write.SetConnMaxLifetime(0)
	db.read = db.write
	if err := db.migrateCramped(ctx); err != nil {
		return err
	}
	return db.load(ctx)
}

// migrateCramped makes the schema where there is none. A migration of what is
// there waits for the room its copy needs.
func (db *DB) migrateCramped(ctx context.Context) error {
	var have int
	if err := db.write.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&have); err != nil {
		return fail("read schema version", err)
	}
	if have > 0 && have < len(schema) {
		return fmt.Errorf("%w: migration from schema %d to %d", store.ErrFull, have, len(schema))
	}
	return db.migrate(ctx, schema)
}

// Cramped reports whether the disk was full when the store was opened.
func (db *DB) Cramped() bool { return db.cramped }

// InMemory reports whether it is cramped and keeps everything in memory.
func (db *DB) InMemory() bool { return db.inMemory }

// leave gives the directory to another store; what is in memory stays.
func (db *DB) leave() error {
	l := db.lock
	db.lock = nil
	return unlockDir(l)
}

// PourInto records in to what came into a store in memory meanwhile, and returns
// how many scans and documents that were. A history that was there before is
// not mixed with it: to must be empty.
func (db *DB) PourInto(ctx context.Context, to store.Store) (scans, documents int, err error) {
	if !db.inMemory {
		return 0, 0, nil
	}
	if there, err := to.Documents(ctx, store.Query{Limit: 1}); err != nil || len(there) > 0 {
		return 0, 0, err
	}
	docs, err := db.Documents(ctx, store.Query{})
	if err != nil {
		return 0, 0, err
	}
	for _, d := range docs {
		d.Replaces = 0
		if _, err := to.Put(ctx, d); err != nil {
			return scans, documents, err
		}
		documents++
	}
	scans, err = db.pourScans(ctx, to)
	return scans, documents, err
}

func (db *DB) pourScans(ctx context.Context, to store.Store) (n int, err error) {
	known, err := db.Series(ctx)
	if err != nil || len(known) == 0 {
		return 0, err
	}
	var ids []store.ID
	var series []store.Series
	for id, s := range known {
		ids, series = append(ids, id), append(series, s)
	}
	theirs, err := to.Register(ctx, series)
	if err != nil {
		return 0, err
	}
	place := map[store.ID]store.ID{}
	for i, id := range ids {
		place[id] = theirs[i]
	}
	from, end, err := db.Extent(ctx)
	if err != nil || from.IsZero() {
		return 0, err
	}
	scans, err := db.Scans(ctx, ids, from, end)
	if err != nil {
		return 0, err
	}
	for i := range scans {
		for j := range scans[i].Values {
			v := &scans[i].Values[j]
			v.ID = place[v.ID]
		}
		if err := to.Append(ctx, scans[i]); err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}

// openDir makes and locks the data directory. On a full disk it may be missing
// and unlocked: nothing is written then.
func openDir(dir string, cramped bool) (l *flock.Flock, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		if cramped && store.NoRoom(err) {
			return nil, nil
		}
		return nil, fmt.Errorf("%w; make it, and give it to the user the service runs as, or name another one", err)
	}
	l, err = lockDir(dir)
	if err != nil && cramped && store.NoRoom(err) {
		return nil, nil
	}
	return l, err
}

// closeConnections ends what an attempt to open has left.
func (db *DB) closeConnections() error {
	var errs []error
	if db.read != nil && db.read != db.write {
		errs = append(errs, db.read.Close())
	}
	errs = append(errs, db.rows.close(), db.onDisk.close())
	if db.write != nil {
		errs = append(errs, db.write.Close())
	}
	db.read, db.write = nil, nil
	return errors.Join(errs...)
}
