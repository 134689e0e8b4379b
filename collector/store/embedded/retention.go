package embedded

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"math"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

// Retention says how long history is kept. Days are whole UTC days before
// today; 0 takes the default, negative keeps for ever. Bytes limit the
// archive files of a class, or the summaries, oldest days first; 0 is no limit.
// Nothing is dropped for its age before as many days with history came after it:
// a clock that is years ahead for a day costs a day.
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
		before, err := db.cutoffOf(ctx, c, today)
		if err != nil {
			return fail("find what is past its retention", err)
		}
		for _, b := range db.expired(c, before) {
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

// cutoff is the day before which history of more than so many days may go.
func (db *DB) cutoff(ctx context.Context, today int64, days int) (int64, error) {
	if days <= 0 {
		return math.MinInt64, nil
	}
	var nth int64
	err := db.read.QueryRowContext(ctx, `WITH RECURSIVE newest (day, n) AS (
			SELECT max(day), 1 FROM summary
			UNION ALL SELECT (SELECT max(day) FROM summary WHERE day < newest.day), n + 1 FROM newest WHERE day IS NOT NULL AND n < ?
		) SELECT day FROM newest WHERE n = ? AND day IS NOT NULL`, days, days).Scan(&nth)
	if errors.Is(err, sql.ErrNoRows) {
		return math.MinInt64, nil
	}
	return min(today-int64(days), nth), err
}

// cutoffOf is the cutoff of a class. It is looked for only when something may be
// past it.
func (db *DB) cutoffOf(ctx context.Context, c store.Class, today int64) (int64, error) {
	days, _ := db.retain.of(c)
	for _, day := range db.sealed.order {
		if day >= today-int64(days) {
			break
		}
		if slices.ContainsFunc(db.sealed.days[day].blocks, func(b *block) bool { return b.class == c }) {
			return db.cutoff(ctx, today, days)
		}
	}
	return math.MinInt64, nil
}

// Cutoff is the time before which what is kept for so long may be dropped: that
// long ago, or as many days of history, whichever is earlier. It is the zero time
// when there are not that many.
func (db *DB) Cutoff(ctx context.Context, keep time.Duration) (time.Time, error) {
	day, err := db.cutoff(ctx, dayOf(db.now().UnixMicro()), int((keep+24*time.Hour-1)/(24*time.Hour)))
	if err != nil || day == math.MinInt64 {
		return time.Time{}, fail("find what is past its retention", err)
	}
	return time.UnixMicro(day * dayMicros).UTC(), nil
}

// expired lists the live blocks of a class to drop, oldest first: those of days
// before one, and what does not fit the size.
func (db *DB) expired(c store.Class, before int64) []*block {
	_, limit := db.retain.of(c)
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
		if old := b.day < before; !old && (limit <= 0 || total <= limit) {
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
	var oldest sql.NullInt64
	if err := db.read.QueryRowContext(ctx, `SELECT min(day) FROM block WHERE state = 'kept'`).Scan(&oldest); err != nil || !oldest.Valid || oldest.Int64 >= today-int64(db.retain.DerivedDays) {
		return err
	}
	before, err := db.cutoff(ctx, today, db.retain.DerivedDays)
	if err != nil {
		return err
	}
	rows, err := db.read.QueryContext(ctx, `SELECT id, file FROM block WHERE state = 'kept' AND day < ?`, before)
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
	tens, err := db.cutoff(ctx, today, db.retain.TensDays)
	if err != nil {
		return err
	}
	whole, err := db.cutoff(ctx, today, db.retain.SummaryDays)
	if err != nil {
		return err
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	err = db.inTx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `UPDATE summary SET tens = NULL WHERE day < ? AND tens IS NOT NULL`, tens); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM summary WHERE day < ?`, whole); err != nil {
			return err
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
