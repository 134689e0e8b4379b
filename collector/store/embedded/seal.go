package embedded

import (
	"context"
	"database/sql"
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
