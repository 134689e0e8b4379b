package embedded

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// Nobody but the owner reads what is in a data directory, whatever the umask,
// and a directory of an earlier version is tightened.
func TestDataFilesAreForTheOwnerOnly(t *testing.T) {
	p := newPlant(t, 2, Options{})
	p.run(30*time.Hour, 10*time.Minute)
	p.upkeep()
	backup := filepath.Join(t.TempDir(), "history.backup")
	if _, err := CreateBackup(t.Context(), p.dir, backup, nil); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(filepath.Join(p.dir, historyFile), 0o644); err != nil {
		t.Fatal(err)
	}
	p.reopen()
	files := 0
	private := func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		files++
		info, err := e.Info()
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s has mode %v, want nothing for others", path, info.Mode())
		}
		return err
	}
	for _, dir := range []string{p.dir, filepath.Dir(backup)} {
		if err := filepath.WalkDir(dir, private); err != nil {
			t.Fatal(err)
		}
	}
	if files < 5 {
		t.Errorf("%d files, want database, log, lock, archive and backup", files)
	}
}
