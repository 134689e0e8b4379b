package embedded

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"time"

	"bridlewatch/collector/store"
)

// Retention says how long history is kept. Days are whole UTC days before
// today; 0 takes the default, negative keeps for ever. Bytes limit the
// archive files of a class, or the summaries, oldest days first; 0 is no limit.
type Retention struct {
	RawDays      int // samples as the devices gave them
	DerivedDays  int // levels, gaps, budgets
	TensDays     int // ten-minute summaries
	SummaryDays  int // hourly and daily summaries
	RawBytes     int64
	DerivedBytes int64
	SummaryBytes int64 // of all summaries; those of ten minutes go first
}

// DefaultRetention keeps two years of samples and levels and of ten-minute
// summaries, and ten years of hourly ones.
var DefaultRetention = Retention{RawDays: 731, DerivedDays: 731, TensDays: 731, SummaryDays: 3653}

func (r Retention) orDefault() Retention {
	d := DefaultRetention
	return Retention{
		RawDays: cmp.Or(r.RawDays, d.RawDays), DerivedDays: cmp.Or(r.DerivedDays, d.DerivedDays),
		TensDays: cmp.Or(r.TensDays, d.TensDays), SummaryDays: cmp.Or(r.SummaryDays, d.SummaryDays),
		RawBytes: r.RawBytes, DerivedBytes: r.DerivedBytes, SummaryBytes: r.SummaryBytes,
	}
}

func (r Retention) of(c store.Class) (days int, bytes int64) {
	if c == store.Raw {
		return r.RawDays, r.RawBytes
	}
	return r.DerivedDays, r.DerivedBytes
}

// retire drops what has passed its age or does not fit its size.
func (db *DB) retire(ctx context.Context, now time.Time) error {
	today := dayOf(now.UnixMicro())
	for _, c := range []store.Class{store.Raw, store.Derived} {
		for _, b := range db.expired(c, today) {
			if err := db.dropBlock(ctx, b); err != nil {
				return fail("drop "+b.file, err)
			}
			db.log.Info("archive file past its retention dropped", "file", b.file)
		}
	}
	if err := db.dropKept(ctx, today); err != nil {
		return fail("drop earlier generations", err)
	}
	return fail("drop summaries", db.dropSummaries(ctx, today))
}

// expired lists the live blocks of a class to drop, oldest first.
func (db *DB) expired(c store.Class, today int64) []*block {
	days, limit := db.retain.of(c)
	var blocks []*block
	var total int64
	for _, day := range db.sealed.order {
		for _, b := range db.sealed.days[day].blocks {
			if b.class == c {
				blocks = append(blocks, b)
				total += b.bytes
			}
		}
	}
	n := 0
	for _, b := range blocks {
		if old := days > 0 && b.day < today-int64(days); !old && (limit <= 0 || total <= limit) {
			break
		}
		total -= b.bytes
		n++
	}
	return blocks[:n]
}

func (db *DB) dropBlock(ctx context.Context, b *block) error {
	db.sealed.gate.Lock()
	defer db.sealed.gate.Unlock()
	if err := db.execTx(ctx, `DELETE FROM block WHERE id = ?`, b.id); err != nil {
		return err
	}
	db.sealed.remove(b)
	db.removeFile(b.file)
	return nil
}

// dropKept drops earlier generations of levels with the age of their class.
func (db *DB) dropKept(ctx context.Context, today int64) error {
	if db.retain.DerivedDays < 0 {
		return nil
	}
	rows, err := db.read.QueryContext(ctx, `SELECT id, file FROM block WHERE state = 'kept' AND day < ?`, today-int64(db.retain.DerivedDays))
	if err != nil {
		return err
	}
	old := map[int64]string{}
	for rows.Next() {
		var id int64
		var file string
		if err := rows.Scan(&id, &file); err != nil {
			return err
		}
		old[id] = file
	}
	if err := rows.Close(); err != nil {
		return err
	}
	for id, file := range old {
		if err := db.execTx(ctx, `DELETE FROM block WHERE id = ?`, id); err != nil {
			return err
		}
		db.removeFile(file)
	}
	return nil
}

// dropSummaries runs once a day: it is a scan of the summaries' index.
func (db *DB) dropSummaries(ctx context.Context, today int64) error {
	if db.retired == today {
		return nil
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	err := db.inTx(ctx, func(tx *sql.Tx) error {
		if d := db.retain.TensDays; d > 0 {
			if _, err := tx.ExecContext(ctx, `UPDATE summary SET tens = NULL WHERE day < ? AND tens IS NOT NULL`, today-int64(d)); err != nil {
				return err
			}
		}
		if d := db.retain.SummaryDays; d > 0 {
			if _, err := tx.ExecContext(ctx, `DELETE FROM summary WHERE day < ?`, today-int64(d)); err != nil {
				return err
			}
		}
		return fitSummaries(ctx, tx, db.retain.SummaryBytes)
	})
	if err == nil {
		db.retired = today
	}
	return err
}

// summaryRow is what a row of summaries takes beside its packed hours and tens.
const summaryRow = 48

// fitSummaries drops ten-minute summaries of the oldest days, and then whole
// days, until what is left fits a limit.
func fitSummaries(ctx context.Context, tx *sql.Tx, limit int64) error {
	if limit <= 0 {
		return nil
	}
	rows, err := tx.QueryContext(ctx, `SELECT day, sum(coalesce(length(tens), 0)), sum(coalesce(length(hours), 0)) + ? * count(*)
		FROM summary GROUP BY day ORDER BY day`, summaryRow)
	if err != nil {
		return err
	}
	type size struct{ day, tens, rest int64 }
	var days []size
	var total int64
	for rows.Next() {
		var d size
		if err := rows.Scan(&d.day, &d.tens, &d.rest); err != nil {
			return errors.Join(err, rows.Close())
		}
		days, total = append(days, d), total+d.tens+d.rest
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return err
	}
	tens, whole := int64(-1), int64(-1) // days before which they go
	for i := 0; i < len(days) && total > limit; i++ {
		total -= days[i].tens
		tens = days[i].day + 1
	}
	for i := 0; i < len(days) && total > limit; i++ {
		total -= days[i].rest
		whole = days[i].day + 1
	}
	if _, err := tx.ExecContext(ctx, `UPDATE summary SET tens = NULL WHERE day < ? AND tens IS NOT NULL`, tens); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM summary WHERE day < ?`, whole)
	return err
}
