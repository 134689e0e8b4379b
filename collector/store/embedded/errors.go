package embedded

import (
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"bridlewatch/collector/store"
)

// fail says what was being done and turns the engine's error into one of the
// kinds of package store. It is nil for nil.
func fail(doing string, err error) error {
	if err == nil {
		return nil
	}
	if kind := kindOf(err); kind != nil && !errors.Is(err, kind) {
		return fmt.Errorf("%s: %w: %w", doing, kind, err)
	}
	return fmt.Errorf("%s: %w", doing, err)
}

func kindOf(err error) error {
	if store.NoRoom(err) {
		return store.ErrFull
	}
	var se *sqlite.Error
	if !errors.As(err, &se) {
		if err.Error() == "sql: database is closed" {
			return store.ErrClosed
		}
		return nil
	}
	switch code := se.Code(); {
	case code&0xff == sqlite3.SQLITE_FULL,
		// A file that cannot grow: of the WAL index, a truncation or a write.
		code == sqlite3.SQLITE_IOERR_SHMSIZE, code == sqlite3.SQLITE_IOERR_WRITE:
		return store.ErrFull
	case code&0xff == sqlite3.SQLITE_CORRUPT, code&0xff == sqlite3.SQLITE_NOTADB:
		return store.ErrCorrupt
	case code&0xff == sqlite3.SQLITE_BUSY:
		return store.ErrLocked
	}
	return nil
}
