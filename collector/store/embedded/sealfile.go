package embedded

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"bridlewatch/collector/store/archive"
	"bridlewatch/collector/store/replacement"
)

// blockWriter is an archive file being written.
type blockWriter struct {
	block *block
	out   *archive.Writer
	file  *replacement.File
	sum   interface{ Sum([]byte) []byte }
	size  *counter
}

// counter counts bytes written through it.
type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

// writer returns the open file of a kind, starting a new one when it is full.
func (s *seal) writer(k fileKey) (*blockWriter, error) {
	if w := s.open[k]; w != nil && len(w.block.series) < fileSeries {
		return w, nil
	} else if w != nil {
		if err := s.finish(w); err != nil {
			return nil, err
		}
	}
	dir := filepath.Join("archive", "class="+archive.ClassName(k.class), "day="+dayName(s.day))
	name := fmt.Sprintf("g%03d-%03d-%s.parquet", s.generation, len(s.done)+len(s.open), k.kind)
	if err := os.MkdirAll(filepath.Join(s.db.dir, dir), 0o700); err != nil {
		return nil, err
	}
	b := &block{day: s.day, class: k.class, generation: s.generation, file: filepath.Join(dir, name)}
	file, err := replacement.Create(filepath.Join(s.db.dir, b.file), 0o600)
	if err != nil {
		return nil, err
	}
	sum, size := sha256.New(), &counter{}
	w := &blockWriter{block: b, file: file, sum: sum, size: size,
		out: archive.NewWriter(io.MultiWriter(file, sum, size), k.kind, k.class, dayName(s.day))}
	s.open[k] = w
	return w, nil
}

// finish makes the file durable under its name.
func (s *seal) finish(w *blockWriter) error {
	for k, o := range s.open {
		if o == w {
			delete(s.open, k)
		}
	}
	s.done = append(s.done, w.block)
	if err := w.out.Close(); err != nil {
		return errors.Join(err, w.file.Discard())
	}
	w.block.bytes, w.block.sum = w.size.n, hex.EncodeToString(w.sum.Sum(nil))
	w.block.verified.Store(true)
	return w.file.Commit()
}

// discard removes what an unsuccessful sealing wrote.
func (s *seal) discard() {
	for _, w := range s.open {
		_ = w.file.Discard() // what stays behind is removed at the next start
		s.db.removeFile(w.block.file)
	}
	for _, b := range s.done {
		s.db.removeFile(b.file)
	}
}

// removeFile removes a file below DIR, and its directory once empty. What
// stays behind is an orphan, which the next start takes away.
func (db *DB) removeFile(name string) {
	path := filepath.Join(db.dir, name)
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		db.log.Warn("file not removed", "file", path, "err", err)
	}
	_ = os.Remove(filepath.Dir(path)) // fails unless empty
}
