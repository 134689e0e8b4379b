package embedded

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"
)

var errView = errors.New("history is opened for reading only")

// OpenView opens the history of a directory for reading as it is at this
// instant, whether or not a process records into it. Close it soon: what it
// sees is kept on the disk meanwhile. When sealing takes a file away that the
// view still needs, the file's day reads as empty and Notices says so.
func OpenView(ctx context.Context, dir string) (*DB, error) {
	file := filepath.Join(dir, historyFile)
	if _, err := os.Stat(file); err != nil {
		return nil, fmt.Errorf("no history in %s: %w", dir, err)
	}
	db := &DB{dir: dir, now: time.Now, log: slog.New(slog.DiscardHandler), retain: DefaultRetention, view: true}
	if err := db.startView(ctx, file); err != nil {
		return nil, errors.Join(fmt.Errorf("open %s for reading: %w", dir, err), db.Close())
	}
	return db, nil
}

// startView pins one connection to one instant of the database.
func (db *DB) startView(ctx context.Context, file string) (err error) {
	if db.read, err = sql.Open("sqlite", dsn(file, "deferred", "query_only(1)")); err != nil {
		return err
	}
	db.read.SetMaxOpenConns(1)
	db.read.SetMaxIdleConns(1)
	db.write = db.read // nothing is written: see inTx
	if _, err := db.read.ExecContext(ctx, `BEGIN`); err != nil {
		return fail("begin", err)
	}
	var have int
	if err := db.read.QueryRowContext(ctx, `SELECT user_version FROM pragma_user_version, (SELECT count(*) FROM sqlite_master)`).Scan(&have); err != nil {
		return fail("read schema version", err)
	}
	if have != len(schema) {
		return fmt.Errorf("history is of schema %d, this program reads %d: open it with the service of this version first", have, len(schema))
	}
	return db.load(ctx)
}
