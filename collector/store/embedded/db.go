// Package embedded keeps history in one directory of the edge box, with no
// server: scans and documents in SQLite, finished days in Parquet files that
// any engine can read.
//
//	DIR/history.db   series, hot scans, summaries, documents, manifest
//	DIR/archive/     sealed days
//	DIR/backup/      copies made before a migration
//	DIR/lock         held while open; contains the process id
//
// A scan is one row: a killed process, a full disk, a late or corrected value
// and a stepped clock all cost nothing. Every commit is synced, so what Append
// acknowledged survives a lost supply.
package embedded

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	"github.com/gofrs/flock"
	_ "modernc.org/sqlite" // the SQL driver named "sqlite"

	"bridlewatch/collector/store"
)

// Options of Open.
type Options struct {
	Dir    string           // made when missing; required
	Now    func() time.Time // the clock of the plant; time.Now when nil
	Logger *slog.Logger     // discards when nil

	// Retain says how long history is kept; DefaultRetention when zero.
	Retain Retention
	// SealAfter is how long after its end a UTC day is sealed; one hour when 0.
	SealAfter time.Duration
	// Upkeep is the real time between rounds of sealing, summaries and
	// retention; 5 s when 0. Negative: only when Upkeep is called.
	Upkeep time.Duration
	// EvenFull opens the store on a full disk as well: see DB.Cramped.
	EvenFull bool
	// After is a store in memory that had the directory and leaves it to this
	// one; nil: none.
	After *DB
}

// touch counts the scans of a day that came since it was sealed.
type touch struct {
	last time.Time
	n    int
}

// DB is a store in one directory. It may be used from several goroutines.
type DB struct {
	dir  string
	now  func() time.Time
	log  *slog.Logger
	lock *flock.Flock

	write *sql.DB // one connection: SQLite has one writer
	read  *sql.DB

	sealed    manifest
	pack      packer
	keep      sync.Mutex // one upkeep at a time
	retain    Retention
	spent     map[int64]int64 // days with sealed scans to drop, up to which seq it was done; of upkeep
	sealAfter time.Duration
	notices   noticeBoard
	stop      context.CancelFunc
	stopped   sync.WaitGroup

	view     bool       // opened for reading beside another process
	cramped  bool       // opened on a full disk
	inMemory bool       // cramped, and nothing could be read
	mu       sync.Mutex // serialises writers and guards what follows
	minutes  minuteTable
	retired  int64           // day on which summaries were last retired
	touched  map[int64]touch // days with scans that may not be sealed
	series   seriesTable
	layouts  layoutTable
	seq      int64 // of the newest scan; never used twice
	rows     rowWriter
	onDisk   logSync
	closed   bool
}

var (
	_ store.Store         = (*DB)(nil)
	_ store.BatchAppender = (*DB)(nil)
)

// Open opens the store in o.Dir, making or migrating it as needed. It is
// store.ErrLocked when another process has the directory.
func Open(ctx context.Context, o Options) (*DB, error) {
	if o.Dir == "" {
		return nil, errors.New("embedded store: no data directory given")
	}
	if o.After != nil {
		if err := o.After.leave(); err != nil {
			return nil, err
		}
	}
	lock, err := openDir(o.Dir, o.EvenFull)
	if err != nil {
		return nil, err
	}
	db := &DB{dir: o.Dir, now: o.Now, log: o.Logger, lock: lock}
	if db.now == nil {
		db.now = time.Now
	}
	if db.log == nil {
		db.log = slog.New(slog.DiscardHandler)
	}
	db.retain, db.sealAfter = o.Retain.orDefault(), cmp.Or(o.SealAfter, time.Hour)
	err = db.start(ctx)
	if err != nil && o.EvenFull && (errors.Is(err, store.ErrFull) || !HasRoom(o.Dir)) {
		if err = db.openCramped(ctx, err); err == nil {
			return db, nil
		}
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open %s: %w", o.Dir, err), db.Close())
	}
	db.startUpkeep(o.Upkeep)
	return db, nil
}

func (db *DB) start(ctx context.Context) (err error) {
	file := filepath.Join(db.dir, historyFile)
	db.onDisk.path = file + "-wal"
	if err := keepPrivate(file); err != nil {
		return err
	}
	if db.write, err = sql.Open("sqlite", dsn(file, "immediate")); err != nil {
		return err
	}
	db.write.SetMaxOpenConns(1)
	db.write.SetConnMaxLifetime(0)
	if err := db.migrate(ctx, schema); err != nil {
		return err
	}
	if db.read, err = sql.Open("sqlite", dsn(file, "deferred", "query_only(1)")); err != nil {
		return err
	}
	db.read.SetMaxOpenConns(2 + runtime.GOMAXPROCS(0))
	if err := db.load(ctx); err != nil {
		return err
	}
	return fail("check archive", db.cleanArchive(ctx))
}

// keepPrivate makes the database readable for its owner only; SQLite gives its
// other files the mode of the database.
func keepPrivate(file string) error {
	// One that is there is not opened: closing it would end SQLite's locks.
	if f, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600); err == nil {
		if err := f.Close(); err != nil {
			return err
		}
	} else if !errors.Is(err, fs.ErrExist) {
		return err
	}
	for _, name := range []string{file, file + "-wal", file + "-shm"} {
		if err := os.Chmod(name, 0o600); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// load reads what is kept in memory.
func (db *DB) load(ctx context.Context) (err error) {
	if db.pack, err = newPacker(); err != nil {
		return err
	}
	if db.series, err = loadSeries(ctx, db.write); err != nil {
		return fail("read series", err)
	}
	if db.layouts, err = loadLayouts(ctx, db.write); err != nil {
		return fail("read layouts", err)
	}
	if err := db.loadManifest(ctx); err != nil {
		return fail("read manifest", err)
	}
	if err := db.loadSeq(ctx); err != nil {
		return fail("read scan numbers", err)
	}
	if err := db.loadMinutes(ctx); err != nil {
		return fail("read minutes", err)
	}
	if err := db.loadTouched(ctx); err != nil {
		return fail("find unsealed days", err)
	}
	return nil
}

// loadSeq finds the newest number ever given to a scan, also of those dropped.
func (db *DB) loadSeq(ctx context.Context) error {
	return db.write.QueryRowContext(ctx, `SELECT max(
		(SELECT coalesce(max(seq), 0) FROM scan),
		(SELECT coalesce(max(through), 0) FROM sealed),
		(SELECT coalesce(max(seq), 0) FROM cursor))`).Scan(&db.seq)
}

func dsn(file, txlock string, pragmas ...string) string {
	return name(file, txlock, append([]string{
		"journal_mode(WAL)", "cache_size(-16384)", // no mmap: a failing disk would end the process
	}, pragmas...))
}

// name names a database with what every connection to it is set to.
func name(file, txlock string, pragmas []string) string {
	q := url.Values{"_txlock": {txlock}, "_pragma": append(pragmas,
		"busy_timeout(10000)", "synchronous(NORMAL)", "foreign_keys(1)", "temp_store(MEMORY)")}
	u := url.URL{Scheme: "file", Path: file, RawQuery: q.Encode()}
	if file == inMemory {
		u.Path, u.Opaque = "", file
	} else if !filepath.IsAbs(file) {
		u.Path, u.Opaque = "", (&url.URL{Path: file}).EscapedPath()
	}
	return u.String()
}

// Close flushes and closes. Calling it twice is harmless.
func (db *DB) Close() error {
	if db.stop != nil {
		db.stop()
		db.stopped.Wait()
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	if db.closed {
		return nil
	}
	db.closed = true
	db.sealed.files.dropAll()
	db.pack.close()
	return errors.Join(db.closeConnections(), unlockDir(db.lock))
}

func (db *DB) mayWrite() error {
	switch {
	case db.closed:
		return store.ErrClosed
	case db.view:
		return errView
	}
	return nil
}

// inTx runs f in one write transaction. The caller holds db.mu.
func (db *DB) inTx(ctx context.Context, f func(*sql.Tx) error) error {
	if err := db.mayWrite(); err != nil {
		return err
	}
	tx, err := db.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := f(tx); err != nil {
		return errors.Join(err, rollback(tx))
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	return db.onDisk.sync()
}

// autocommit runs one statement that is a transaction of its own. The caller
// holds db.mu.
func (db *DB) autocommit(statement func() error) error {
	if err := db.mayWrite(); err != nil {
		return err
	}
	if err := statement(); err != nil {
		return err
	}
	return db.onDisk.sync()
}

func rollback(tx *sql.Tx) error {
	if err := tx.Rollback(); err != nil && !errors.Is(err, sql.ErrTxDone) {
		return err
	}
	return nil
}
