package embedded

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"

	"bridlewatch/collector/store/replacement"
)

// logSync makes commits durable. SQLite runs with synchronous=NORMAL: a commit
// writes the log and leaves its way to the disk to the system; syncing the log
// behind it gives what synchronous=FULL gives. It is done here because SQLite
// asks for the file's times as well, which a busy log never has on disk: one
// journal entry of the file system for each commit.
type logSync struct {
	path string
	file *os.File
	is   unix.Stat_t
}

// sync returns once everything committed is on disk.
func (l *logSync) sync() error {
	var now unix.Stat_t
	if err := unix.Stat(l.path, &now); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil // nothing was committed since it was moved into the database
		}
		return fmt.Errorf("sync %s: %w", l.path, err)
	}
	if l.file == nil || now.Ino != l.is.Ino || now.Dev != l.is.Dev {
		if err := l.reopen(); err != nil {
			return err
		}
	}
	if err := unix.Fdatasync(int(l.file.Fd())); err != nil {
		return fmt.Errorf("sync %s: %w", l.path, err)
	}
	return nil
}

// reopen follows a log that SQLite made anew, and syncs its name.
func (l *logSync) reopen() error {
	if err := l.close(); err != nil {
		return err
	}
	f, err := os.OpenFile(l.path, os.O_RDWR, 0)
	if err != nil {
		return fmt.Errorf("sync: %w", err)
	}
	l.file = f
	if err := unix.Fstat(int(f.Fd()), &l.is); err != nil {
		return fmt.Errorf("sync %s: %w", l.path, err)
	}
	return replacement.SyncDir(filepath.Dir(l.path))
}

func (l *logSync) close() error {
	if l.file == nil {
		return nil
	}
	err := l.file.Close()
	l.file = nil
	return err
}
