package embedded

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/archive"
)

const (
	fileSeries = 256       // series per archive file: a footer stays small
	sealMemory = 1_500_000 // samples read at a time: about 60 MB
)

// seal is the sealing of one day: files are written beside the archive,
// synced and renamed; then one transaction enters them in the manifest and
// drops the scans they hold, so that a day is in one place at any instant.
type seal struct {
	db         *DB
	day        int64
	through    int64 // scans up to here are sealed
	most       int64 // samples of a series, about
	keepOld    bool  // replaced files of levels stay as an earlier generation
	generation int
	open       map[fileKey]*blockWriter
	done       []*block
	replaced   []*block
	summaries  []*daySummary
}

type fileKey struct {
	class store.Class
	kind  archive.Kind
}

// sealDay seals the scans of a day that are not sealed yet, together with the
// blocks of the series they belong to. The caller holds db.keep.
func (db *DB) sealDay(ctx context.Context, day int64, keepOld bool) error {
	s := &seal{db: db, day: day, keepOld: keepOld, open: map[fileKey]*blockWriter{}}
	err := s.run(ctx)
	if err != nil {
		s.discard()
		return fail("seal "+dayName(day), err)
	}
	return nil
}

func (s *seal) run(ctx context.Context) error {
	ids, err := s.affected(ctx)
	if err != nil || len(ids) == 0 {
		return err
	}
	started := time.Now()
	for batch := range slices.Chunk(ids, int(min(fileSeries, max(1, sealMemory/max(1, s.most))))) {
		if err := s.write(ctx, batch); err != nil {
			return err
		}
	}
	for _, w := range s.open {
		if err := s.finish(w); err != nil {
			return err
		}
	}
	if err := s.commit(ctx); err != nil {
		return err
	}
	s.db.log.Info("day sealed", "day", dayName(s.day), "series", len(ids), "files", len(s.done), "took", time.Since(started).Round(time.Millisecond))
	return nil
}

// affected returns the series to write, by class and ID: those with new
// scans, and those that share a file with one of them. It notes the files
// that will be replaced.
func (s *seal) affected(ctx context.Context) ([]store.ID, error) {
	set, err := s.unsealedSeries(ctx)
	if err != nil || len(set) == 0 {
		return nil, err
	}
	for _, b := range s.db.sealed.day(s.day).blocks {
		s.generation = max(s.generation, b.generation)
		if slices.ContainsFunc(b.series, func(id store.ID) bool { return set[id] }) && !b.damaged.Load() {
			s.replaced = append(s.replaced, b)
			s.most = max(s.most, b.samples/int64(len(b.series)))
		}
	}
	s.generation++
	for _, b := range s.replaced {
		for _, id := range b.series {
			set[id] = true
		}
	}
	known, err := s.db.Series(ctx)
	if err != nil {
		return nil, err
	}
	ids := make([]store.ID, 0, len(set))
	for id := range set {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, func(a, b store.ID) int {
		if c := int(known[a].Class) - int(known[b].Class); c != 0 {
			return c
		}
		return int(int64(a) - int64(b))
	})
	return ids, nil
}

// unsealedSeries returns the series that unsealed scans of the day carry, and
// notes the newest seq of those scans and how many there are of a series. No
// two days share a seq. Scans that come while it looks are left for the next
// sealing.
func (s *seal) unsealedSeries(ctx context.Context) (map[store.ID]bool, error) {
	db := s.db
	var last int64
	if err := db.read.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM scan`).Scan(&last); err != nil {
		return nil, err
	}
	db.mu.Lock()
	layouts := db.layouts.all()
	db.mu.Unlock()
	after, set := db.sealed.day(s.day).through, map[store.ID]bool{}
	for _, l := range layouts {
		var newest, n int64
		err := db.read.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0), count(*) FROM scan WHERE layout = ? AND t >= ? AND t < ? AND seq > ? AND seq <= ?`,
			l.id, s.day*dayMicros, (s.day+1)*dayMicros, after, last).Scan(&newest, &n)
		if err != nil {
			return nil, err
		}
		s.through, s.most = max(s.through, newest), max(s.most, n)
		for _, id := range l.ids {
			if n > 0 {
				set[id] = true
			}
		}
	}
	return set, s.ownLists(ctx, after, last, set)
}

// ownLists adds the series of scans that carry their own list.
func (s *seal) ownLists(ctx context.Context, after, last int64, set map[store.ID]bool) error {
	rows, err := s.db.read.QueryContext(ctx, `SELECT seq, body FROM scan WHERE layout = 0 AND t >= ? AND t < ? AND seq > ? AND seq <= ?`,
		s.day*dayMicros, (s.day+1)*dayMicros, after, last)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var seq int64
		var raw sql.RawBytes
		if err := rows.Scan(&seq, &raw); err != nil {
			return err
		}
		s.through = max(s.through, seq)
		b, err := decodeBody(raw, nil)
		if err != nil {
			continue // reported when it is read
		}
		for _, id := range b.ids {
			set[id] = true
		}
	}
	return rows.Err()
}

// write puts the day of each of ids into the file of its kind.
func (s *seal) write(ctx context.Context, ids []store.ID) error {
	cols, err := s.db.columns(ctx, ids, s.day*dayMicros, (s.day+1)*dayMicros, true)
	if err != nil {
		return err
	}
	known, err := s.db.Series(ctx)
	if err != nil {
		return err
	}
	for i, c := range cols {
		if len(c) == 0 {
			continue
		}
		series := known[ids[i]]
		w, err := s.writer(fileKey{series.Class, archive.KindOf(c)})
		if err != nil {
			return err
		}
		if err := w.out.Write(series, c); err != nil {
			return err
		}
		w.block.series = append(w.block.series, ids[i])
		w.block.samples += int64(len(c))
		d := summarise(ids[i], s.day, c)
		if err := s.mergeExpired(ctx, d); err != nil {
			return err
		}
		s.summaries = append(s.summaries, d)
	}
	return nil
}

// mergeExpired adds the summary of a day whose samples are past their
// retention to that of scans that came even later.
func (s *seal) mergeExpired(ctx context.Context, d *daySummary) error {
	sealed := s.db.sealed.day(s.day)
	if sealed.through == 0 || slices.ContainsFunc(sealed.blocks, func(b *block) bool { return slices.Contains(b.series, d.series) }) {
		return nil
	}
	for _, part := range []struct {
		column  string
		buckets []store.Bucket
	}{{"hours", d.hours[:]}, {"tens", d.tens[:]}} {
		var packed []byte
		var all store.Bucket
		err := s.db.read.QueryRowContext(ctx, `SELECT min, max, sum, count, bad, `+part.column+` FROM summary WHERE series = ? AND day = ?`, d.series, s.day).
			Scan(&all.Min, &all.Max, &all.Sum, &all.Count, &all.Bad, &packed)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		if part.column == "hours" {
			d.all.Merge(all)
		}
		old := make([]store.Bucket, len(part.buckets))
		if packed == nil || s.db.pack.unpack(packed, old) != nil {
			continue
		}
		for i := range old {
			part.buckets[i].Merge(old[i])
		}
	}
	return nil
}

// blockWriter is an archive file being written.
type blockWriter struct {
	block *block
	out   *archive.Writer
	file  *os.File
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
	if err := os.MkdirAll(filepath.Join(s.db.dir, dir), 0o750); err != nil {
		return nil, err
	}
	b := &block{day: s.day, class: k.class, generation: s.generation, file: filepath.Join(dir, name)}
	file, err := os.OpenFile(filepath.Join(s.db.dir, b.file+unfinished), os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o640)
	if err != nil {
		return nil, err
	}
	sum, size := sha256.New(), &counter{}
	w := &blockWriter{block: b, file: file, sum: sum, size: size,
		out: archive.NewWriter(io.MultiWriter(file, sum, size), k.kind, k.class, dayName(s.day))}
	s.open[k] = w
	return w, nil
}

// unfinished ends the name of a file that is being written.
const unfinished = ".tmp"

// finish makes the file durable under its name.
func (s *seal) finish(w *blockWriter) error {
	for k, o := range s.open {
		if o == w {
			delete(s.open, k)
		}
	}
	s.done = append(s.done, w.block)
	err := errors.Join(w.out.Close(), w.file.Sync(), w.file.Close())
	if err != nil {
		return err
	}
	w.block.bytes, w.block.sum = w.size.n, hex.EncodeToString(w.sum.Sum(nil))
	w.block.verified.Store(true)
	path := filepath.Join(s.db.dir, w.block.file)
	if err := os.Rename(path+unfinished, path); err != nil {
		return err
	}
	return syncDir(filepath.Dir(path))
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// commit moves the day from scans to files.
func (s *seal) commit(ctx context.Context) error {
	db := s.db
	db.sealed.gate.Lock()
	defer db.sealed.gate.Unlock()
	db.mu.Lock()
	defer db.mu.Unlock()
	if err := db.inTx(ctx, func(tx *sql.Tx) error { return s.enter(ctx, tx) }); err != nil {
		return err
	}
	db.sealed.enter(s.day).through = s.through
	for _, b := range s.replaced {
		db.sealed.remove(b)
		switch s.fate(b) {
		case "damaged":
			db.moveAside(b.file)
		case "":
			db.removeFile(b.file)
		}
	}
	for _, b := range s.done {
		db.sealed.add(b)
	}
	return nil
}

// fate is the state a replaced block stays in, empty when it goes. One that
// turned out damaged while it was read is never destroyed.
func (s *seal) fate(b *block) string {
	switch {
	case b.damaged.Load():
		return "damaged"
	case s.keepOld && b.class == store.Derived:
		return "kept"
	default:
		return ""
	}
}

func (s *seal) enter(ctx context.Context, tx *sql.Tx) error {
	for _, b := range s.replaced {
		if err := s.leave(ctx, tx, b); err != nil {
			return err
		}
	}
	for _, b := range s.done {
		if err := insertBlock(ctx, tx, b, s.db.now()); err != nil {
			return err
		}
	}
	if err := s.enterSummaries(ctx, tx); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO sealed (day, through) VALUES (?, ?) ON CONFLICT (day) DO UPDATE SET through = excluded.through`, s.day, s.through)
	return err
}

func (s *seal) leave(ctx context.Context, tx *sql.Tx, b *block) (err error) {
	if state := s.fate(b); state != "" {
		_, err = tx.ExecContext(ctx, `UPDATE block SET state = ? WHERE id = ?`, state, b.id)
	} else {
		_, err = tx.ExecContext(ctx, `DELETE FROM block WHERE id = ?`, b.id)
	}
	return err
}

func (s *seal) enterSummaries(ctx context.Context, tx *sql.Tx) error {
	insert, err := tx.PrepareContext(ctx, `INSERT OR REPLACE INTO summary (series, day, min, max, sum, count, bad, hours, tens) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	for _, d := range s.summaries {
		_, err := insert.ExecContext(ctx, d.series, d.day, d.all.Min, d.all.Max, d.all.Sum, d.all.Count, d.all.Bad,
			s.db.pack.pack(d.hours[:]), s.db.pack.pack(d.tens[:]))
		if err != nil {
			return err
		}
	}
	return nil
}

// discard removes what an unsuccessful sealing wrote.
func (s *seal) discard() {
	for _, w := range s.open {
		_ = w.file.Close() // it is removed
		s.db.removeFile(w.block.file + unfinished)
	}
	for _, b := range s.done {
		s.db.removeFile(b.file)
		s.db.removeFile(b.file + unfinished)
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
