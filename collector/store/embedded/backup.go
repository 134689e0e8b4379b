package embedded

import (
	"archive/tar"
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/klauspost/compress/zstd"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/replacement"
)

// A backup is one tar file compressed with zstd: backup.json, which lists the
// other members with their SHA-256, then history.db and the archive files.

// Backup describes a backup file.
type Backup struct {
	Format  int
	Made    time.Time
	Schema  int
	Members []Member
}

// Member is one file inside a backup.
type Member struct {
	Name   string
	Bytes  int64
	SHA256 string
}

// Bytes is the size of all members.
func (b Backup) Bytes() (n int64) {
	for _, m := range b.Members {
		n += m.Bytes
	}
	return n
}

const (
	backupFormat = 1
	backupIndex  = "backup.json"
	historyFile  = "history.db"
)

// errMoved says that sealing replaced a file while it was to be copied.
var errMoved = errors.New("archive changed while it was copied")

// CreateBackup writes the history of a data directory into one file, as it
// was at one instant, whether or not a process has it open. Recording goes on
// meanwhile. An existing file is not overwritten. progress, unless nil, is
// told the bytes done of those in all.
func CreateBackup(ctx context.Context, dir, file string, progress func(done, total int64)) (Backup, error) {
	if _, err := os.Stat(filepath.Join(dir, historyFile)); err != nil {
		return Backup{}, fmt.Errorf("backup: no history in %s: %w", dir, err)
	}
	if _, err := os.Lstat(file); err == nil {
		return Backup{}, fmt.Errorf("backup: %s exists; choose another name", file)
	}
	for attempt := 1; ; attempt++ {
		b, err := tryBackup(ctx, dir, file, progress)
		if !errors.Is(err, errMoved) || attempt == 5 {
			return b, fail("backup", err)
		}
	}
}

func tryBackup(ctx context.Context, dir, file string, progress func(done, total int64)) (b Backup, err error) {
	copied := file + ".db" + replacement.Suffix
	defer os.Remove(copied)
	if err := os.Remove(copied); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return b, err
	}
	b, paths, err := snapshot(ctx, dir, copied)
	if err != nil {
		return b, err
	}
	return b, replacement.Write(file, 0o600, func(out io.Writer) error { return writeBackup(ctx, out, b, paths, progress) })
}

// snapshot copies the database at one instant and lists what belongs to it;
// paths are those of the members.
func snapshot(ctx context.Context, dir, copied string) (b Backup, paths []string, err error) {
	db, err := sql.Open("sqlite", dsn(filepath.Join(dir, historyFile), "deferred"))
	if err != nil {
		return b, nil, err
	}
	defer db.Close()
	if err := copyDatabase(ctx, db, copied); err != nil {
		return b, nil, err
	}
	sum, size, err := sumFile(copied)
	if err != nil {
		return b, nil, err
	}
	b = Backup{Format: backupFormat, Made: time.Now().UTC().Truncate(time.Second), Members: []Member{{historyFile, size, sum}}}
	paths = []string{copied}
	return b, paths, listBlocks(ctx, copied, func(m Member) {
		b.Members, paths = append(b.Members, m), append(paths, filepath.Join(dir, m.Name))
	}, &b.Schema)
}

func listBlocks(ctx context.Context, copied string, each func(Member), schema *int) error {
	db, err := sql.Open("sqlite", copied)
	if err != nil {
		return err
	}
	defer db.Close()
	if err := db.QueryRowContext(ctx, `PRAGMA user_version`).Scan(schema); err != nil {
		return err
	}
	rows, err := db.QueryContext(ctx, `SELECT file, bytes, sha256 FROM block WHERE state <> 'damaged' ORDER BY file`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var m Member
		if err := rows.Scan(&m.Name, &m.Bytes, &m.SHA256); err != nil {
			return err
		}
		each(m)
	}
	return rows.Err()
}

func sumFile(path string) (sum string, size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	size, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), size, err
}

func writeBackup(ctx context.Context, out io.Writer, b Backup, paths []string, progress func(done, total int64)) error {
	z, err := zstd.NewWriter(out, zstd.WithEncoderConcurrency(1))
	if err != nil {
		return err
	}
	t := tar.NewWriter(z)
	index, err := json.MarshalIndent(b, "", "  ")
	if err != nil {
		return err
	}
	if err := t.WriteHeader(&tar.Header{Name: backupIndex, Mode: 0o600, Size: int64(len(index)), ModTime: b.Made}); err != nil {
		return err
	}
	if _, err := t.Write(index); err != nil {
		return err
	}
	var done int64
	for i, m := range b.Members {
		if err := cmp.Or(ctx.Err(), addMember(t, m, paths[i], b.Made)); err != nil {
			return err
		}
		if done += m.Bytes; progress != nil {
			progress(done, b.Bytes())
		}
	}
	return errors.Join(t.Close(), z.Close())
}

func addMember(t *tar.Writer, m Member, path string, made time.Time) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return errMoved
	}
	if err != nil {
		return err
	}
	defer f.Close()
	if err := t.WriteHeader(&tar.Header{Name: filepath.ToSlash(m.Name), Mode: 0o600, Size: m.Bytes, ModTime: made}); err != nil {
		return err
	}
	h := sha256.New()
	if _, err := io.CopyN(io.MultiWriter(t, h), f, m.Bytes); err != nil {
		return fmt.Errorf("%s: %w", m.Name, err)
	}
	if hex.EncodeToString(h.Sum(nil)) != m.SHA256 {
		return fmt.Errorf("%w: %s does not match its checksum; start the service, which sets it aside, and try again", store.ErrCorrupt, m.Name)
	}
	return nil
}
