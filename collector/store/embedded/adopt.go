package embedded

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/archive"
)

// An archive file that the manifest does not know is either left over from a
// sealing that was killed before its commit, then its scans are still there
// and it is set aside; or the database was lost or the file comes from
// elsewhere, then it is taken in: the archive describes itself.

// stray is an unknown archive file that reads well.
type stray struct {
	block  *block
	names  []store.Series
	recent bool // of a sealing that never finished
}

// adopt takes unknown files in, the newest generation of a day first.
func (db *DB) adopt(ctx context.Context, unknown []string) error {
	var strays []*stray
	for _, name := range unknown {
		s, err := db.inspect(name)
		if err != nil {
			db.notice("archive file %s is not in the manifest and cannot be read; it was set aside: %v", name, err)
			db.moveAside(name)
			continue
		}
		strays = append(strays, s)
	}
	slices.SortFunc(strays, func(a, b *stray) int {
		return cmp.Or(cmp.Compare(a.block.day, b.block.day), cmp.Compare(b.block.generation, a.block.generation), cmp.Compare(a.block.file, b.block.file))
	})
	adopted := 0
	for _, s := range strays {
		ok, err := db.adoptOne(ctx, s)
		if err != nil {
			return fail("take in "+s.block.file, err)
		}
		if ok {
			adopted++
			continue
		}
		db.notice("archive file %s is not in the manifest and was set aside", s.block.file)
		db.moveAside(s.block.file)
	}
	if adopted > 0 {
		db.notice("%d archive files were not in the manifest and were taken in", adopted)
	}
	return nil
}

// inspect reads what a file says about itself.
func (db *DB) inspect(name string) (*stray, error) {
	path := filepath.Join(db.dir, name)
	sum, size, err := sumFile(path)
	if err != nil {
		return nil, err
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	a, err := archive.Open(file, size)
	if err != nil {
		return nil, err
	}
	day, class, err := a.Day()
	if err != nil {
		return nil, err
	}
	s := &stray{block: &block{day: dayOf(day.UnixMicro()), class: class, file: name, bytes: size, sum: sum, generation: 1}}
	if n, _ := fmt.Sscanf(filepath.Base(name), "g%d-", &s.block.generation); n == 0 {
		s.block.generation = 1
	}
	for i := range a.Len() {
		series, err := a.Series(i)
		if err != nil {
			return nil, err
		}
		s.names = append(s.names, series)
	}
	_, s.recent = db.touched[s.block.day]
	return s, nil
}

// adoptOne enters a file and its summaries, unless the day has those series.
func (db *DB) adoptOne(ctx context.Context, s *stray) (bool, error) {
	if s.recent || len(s.names) == 0 {
		return false, nil
	}
	ids, err := db.Register(ctx, s.names)
	if err != nil {
		return false, err
	}
	s.block.series = ids
	for _, b := range db.sealed.day(s.block.day).blocks {
		if slices.ContainsFunc(b.series, func(id store.ID) bool { return slices.Contains(ids, id) }) {
			return false, nil
		}
	}
	enter := &seal{db: db, day: s.block.day, done: []*block{s.block}}
	for i, id := range ids {
		c, err := db.readBlock(s.block, i, nil, false)
		if err != nil || s.block.damaged.Load() {
			return false, err
		}
		s.block.samples += int64(len(c))
		enter.summaries = append(enter.summaries, summarise(id, s.block.day, c))
	}
	db.sealed.files.drop(0)
	db.mu.Lock()
	defer db.mu.Unlock()
	if err := db.inTx(ctx, func(tx *sql.Tx) error { return enter.enter(ctx, tx) }); err != nil {
		return false, err
	}
	db.sealed.add(s.block)
	return true, nil
}
