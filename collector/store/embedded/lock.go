package embedded

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/gofrs/flock"

	"bridlewatch/collector/store"
)

// lockDir takes the lock of a data directory and writes our process id into
// it. The operating system drops the lock with the process, however it ends.
func lockDir(dir string) (*flock.Flock, error) {
	path := filepath.Join(dir, "lock")
	l := flock.New(path, flock.SetPermissions(0o600))
	ok, err := l.TryLock()
	if errors.Is(err, fs.ErrPermission) {
		return nil, fmt.Errorf("lock %s: %w; give the directory and all that is in it to the user the service runs as, or name another one", path, err)
	}
	if err != nil {
		return nil, fmt.Errorf("lock %s: %w", path, err)
	}
	if !ok {
		return nil, fmt.Errorf("%w: %s is held by process %s; stop that process or choose another data directory",
			store.ErrLocked, dir, holder(path))
	}
	// Without a process id the lock still holds: a full disk must not keep
	// history from being read.
	_ = os.WriteFile(path, []byte(strconv.Itoa(os.Getpid())+"\n"), 0o600)
	return l, nil
}

func holder(path string) string {
	b, err := os.ReadFile(path)
	if pid := strings.TrimSpace(string(b)); err == nil && pid != "" {
		return pid
	}
	return "unknown"
}

func unlockDir(l *flock.Flock) error {
	if l == nil {
		return nil
	}
	return l.Close()
}
