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
	"os"
	"path/filepath"

	"github.com/klauspost/compress/zstd"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/replacement"
)

// VerifyBackup reads a backup to its end, compares every member with its
// checksum, and checks the database and its chain of documents in a temporary
// directory. Damage is store.ErrCorrupt.
func VerifyBackup(ctx context.Context, file string) (Backup, error) {
	dir, err := os.MkdirTemp(filepath.Dir(file), ".verify-")
	if err != nil {
		return Backup{}, fmt.Errorf("verify backup: %w", err)
	}
	defer os.RemoveAll(dir)
	b, err := unpackBackup(ctx, file, func(m Member) (io.WriteCloser, error) {
		if m.Name != historyFile {
			return nopCloser{io.Discard}, nil
		}
		return os.OpenFile(filepath.Join(dir, historyFile), os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	})
	if err != nil {
		return b, fmt.Errorf("verify backup %s: %w", file, err)
	}
	return b, checkDatabase(ctx, filepath.Join(dir, historyFile))
}

type nopCloser struct{ io.Writer }

func (nopCloser) Close() error { return nil }

func checkDatabase(ctx context.Context, file string) error {
	conn, err := sql.Open("sqlite", file)
	if err != nil {
		return err
	}
	defer conn.Close()
	var verdict string
	if err := conn.QueryRowContext(ctx, `PRAGMA integrity_check`).Scan(&verdict); err != nil {
		return fail("check database", err)
	}
	if verdict != "ok" {
		return fmt.Errorf("%w: database: %s", store.ErrCorrupt, verdict)
	}
	_, err = (&DB{read: conn}).VerifyDocuments(ctx)
	return err
}

// RestoreBackup unpacks a backup into a directory that has no history, after
// checking every member.
func RestoreBackup(ctx context.Context, file, dir string) (Backup, error) {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return Backup{}, fmt.Errorf("restore: %s is not empty; give a new directory, so that nothing is overwritten", dir)
	}
	part := filepath.Clean(dir) + ".restoring"
	if err := os.RemoveAll(part); err != nil {
		return Backup{}, fmt.Errorf("restore: %w", err)
	}
	b, err := unpackBackup(ctx, file, func(m Member) (io.WriteCloser, error) {
		path := filepath.Join(part, filepath.FromSlash(m.Name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return nil, err
		}
		return os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	})
	if err == nil {
		err = checkDatabase(ctx, filepath.Join(part, historyFile))
	}
	if err == nil {
		_ = os.Remove(dir) // empty, if it is there
		err = os.Rename(part, dir)
	}
	if err != nil {
		return b, errors.Join(fmt.Errorf("restore %s: %w", file, err), os.RemoveAll(part))
	}
	return b, replacement.SyncDir(filepath.Dir(filepath.Clean(dir)))
}

// unpackBackup hands every member to the writer that open returns for it.
func unpackBackup(ctx context.Context, file string, open func(Member) (io.WriteCloser, error)) (b Backup, err error) {
	f, err := os.Open(file)
	if err != nil {
		return b, err
	}
	defer f.Close()
	z, err := zstd.NewReader(f, zstd.WithDecoderConcurrency(1))
	if err != nil {
		return b, fmt.Errorf("%w: %w", store.ErrCorrupt, err)
	}
	defer z.Close()
	t := tar.NewReader(z)
	if b, err = readIndex(t); err != nil {
		return b, err
	}
	for _, m := range b.Members {
		if err := cmp.Or(ctx.Err(), readMember(t, m, open)); err != nil {
			return b, err
		}
	}
	if _, err := t.Next(); err != io.EOF {
		return b, fmt.Errorf("%w: more members than its index lists", store.ErrCorrupt)
	}
	return b, nil
}

func readIndex(t *tar.Reader) (b Backup, err error) {
	h, err := t.Next()
	if err != nil || h.Name != backupIndex {
		return b, fmt.Errorf("%w: cut short, or not a backup of this program", store.ErrCorrupt)
	}
	if err := json.NewDecoder(io.LimitReader(t, 1<<30)).Decode(&b); err != nil {
		return b, fmt.Errorf("%w: %s: %w", store.ErrCorrupt, backupIndex, err)
	}
	if b.Format != backupFormat {
		return b, fmt.Errorf("backup is of format %d, this program knows %d: use a newer program", b.Format, backupFormat)
	}
	return b, nil
}

func readMember(t *tar.Reader, m Member, open func(Member) (io.WriteCloser, error)) error {
	h, err := t.Next()
	if err != nil || h.Name != filepath.ToSlash(m.Name) || h.Size != m.Bytes || !filepath.IsLocal(m.Name) {
		return fmt.Errorf("%w: member %s is missing or not what the index says", store.ErrCorrupt, m.Name)
	}
	w, err := open(m)
	if err != nil {
		return err
	}
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(w, sum), t)
	if err := errors.Join(err, w.Close()); err != nil {
		return fmt.Errorf("%w: %s: %w", store.ErrCorrupt, m.Name, err)
	}
	if n != m.Bytes || hex.EncodeToString(sum.Sum(nil)) != m.SHA256 {
		return fmt.Errorf("%w: %s does not match its checksum", store.ErrCorrupt, m.Name)
	}
	return nil
}
