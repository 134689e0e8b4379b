// Package replacement puts a file in the place of another, all of it or
// nothing: it is written beside, synced, given the name, and the name is synced.
// Who opens the name finds the old file or the new one, also after a kill and
// after a loss of power. It knows nothing of what is in a file.
package replacement

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Suffix ends the name of a file that is not in its place yet. One that a kill
// left behind is nobody's, and the next replacement of that name removes it.
const Suffix = ".new"

// File is a file being written beside the one it replaces.
type File struct {
	*os.File
	name string
}

// Create begins to replace name. One replacement of a name is written at a time.
func Create(name string, mode fs.FileMode) (*File, error) {
	if err := os.Remove(name + Suffix); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("replace %s: %w", name, err)
	}
	f, err := os.OpenFile(name+Suffix, os.O_CREATE|os.O_EXCL|os.O_WRONLY, mode)
	if err != nil {
		return nil, fmt.Errorf("replace %s: %w", name, err)
	}
	return &File{f, name}, nil
}

// Commit puts the file in its place. After an error the old one is still there.
// Only the error of the last step leaves open which of the two a loss of power
// would leave.
func (f *File) Commit() error {
	err := errors.Join(f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), f.name)
	}
	if err != nil {
		return fmt.Errorf("replace %s: %w", f.name, errors.Join(err, os.Remove(f.Name())))
	}
	return SyncDir(filepath.Dir(f.name))
}

// Discard leaves the old file where it is.
func (f *File) Discard() error { return errors.Join(f.Close(), os.Remove(f.Name())) }

// Write replaces name by what write writes, or leaves it when that fails.
func Write(name string, mode fs.FileMode, write func(io.Writer) error) error {
	f, err := Create(name, mode)
	if err != nil {
		return err
	}
	if err := write(f); err != nil {
		return errors.Join(err, f.Discard())
	}
	return f.Commit()
}

// WriteBytes replaces name by text.
func WriteBytes(name string, mode fs.FileMode, text []byte) error {
	return Write(name, mode, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
}

// SyncDir makes the names in a directory durable.
func SyncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("sync directory: %w", err)
	}
	return errors.Join(d.Sync(), d.Close())
}
