package embedded

import (
	"context"
	"database/sql"
	"errors"
	"slices"

	"bridlewatch/collector/store"
)

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
