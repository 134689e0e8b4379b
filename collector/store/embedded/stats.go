package embedded

import (
	"context"
	"os"
	"path/filepath"
	"time"

	"bridlewatch/collector/store"
)

// Stats says how much history there is and what it takes on the disk.
type Stats struct {
	Series        int
	HotScans      int64     // rows not in the archive yet
	SealedDays    int       // days that have archive files
	Oldest        time.Time // first day that has archive files; zero without
	RawBytes      int64     // archive files of samples
	DerivedBytes  int64     // archive files of levels
	DatabaseBytes int64     // history.db and its write-ahead log
	Documents     int64
}

// Stats counts; it is quick.
func (db *DB) Stats(ctx context.Context) (Stats, error) {
	var s Stats
	if err := db.checkIDs(); err != nil {
		return s, err
	}
	err := db.read.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM series), (SELECT count(*) FROM scan), (SELECT coalesce(max(seq), 0) FROM document)`).
		Scan(&s.Series, &s.HotScans, &s.Documents)
	if err != nil {
		return s, fail("statistics", err)
	}
	db.sealed.gate.RLock()
	defer db.sealed.gate.RUnlock()
	s.SealedDays = len(db.sealed.order)
	for i, day := range db.sealed.order {
		if i == 0 {
			s.Oldest = time.UnixMicro(day * dayMicros).UTC()
		}
		for _, b := range db.sealed.days[day].blocks {
			if b.class == store.Raw {
				s.RawBytes += b.bytes
			} else {
				s.DerivedBytes += b.bytes
			}
		}
	}
	for _, name := range []string{historyFile, historyFile + "-wal"} {
		if st, err := os.Stat(filepath.Join(db.dir, name)); err == nil {
			s.DatabaseBytes += st.Size()
		}
	}
	return s, nil
}
