package embedded

import (
	"context"
	"database/sql"
	"errors"
	"maps"
	"slices"
	"strconv"
	"time"

	"bridlewatch/collector/store"
)

const (
	minuteMicros = int64(time.Minute / time.Microsecond)
	groupSeries  = 64        // series per summary row of a minute
	lateness     = 2_000_000 // a minute is summarised this long after its end
)

// minuteTable knows how far the minutes of unsealed days are summarised, and
// which of them are stale. Guarded by DB.mu.
type minuteTable struct {
	through int64
	claimed int64         // being summarised now; at least through
	stale   map[int64]int // how often a scan came late for that minute
}

func (db *DB) loadMinutes(ctx context.Context) error {
	db.minutes.stale = map[int64]int{}
	var through string
	err := db.write.QueryRowContext(ctx, `SELECT value FROM meta WHERE key = 'minutes_through'`).Scan(&through)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	db.minutes.through, _ = strconv.ParseInt(through, 10, 64)
	db.minutes.claimed = db.minutes.through
	rows, err := db.write.QueryContext(ctx, `SELECT t FROM stale_minute`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var t int64
		if err := rows.Scan(&t); err != nil {
			return err
		}
		db.minutes.stale[t]++
	}
	return rows.Err()
}

// anyLate says whether a scan changes a minute that was summarised. The caller
// holds db.mu.
func (db *DB) anyLate(scans []store.Scan) bool {
	return slices.ContainsFunc(scans, func(s store.Scan) bool { return s.Time.UnixMicro() < db.minutes.claimed })
}

// markStale notes the minutes that scans change after they were summarised.
// The caller holds db.mu.
func (db *DB) markStale(ctx context.Context, tx *sql.Tx, scans []store.Scan) error {
	for i := range scans {
		at := scans[i].Time.UnixMicro()
		if at >= db.minutes.claimed {
			continue
		}
		minute := floorTo(at, minuteMicros)
		if db.minutes.stale[minute] == 0 {
			if _, err := tx.ExecContext(ctx, `INSERT OR IGNORE INTO stale_minute (t) VALUES (?)`, minute); err != nil {
				return err
			}
		}
		db.minutes.stale[minute]++
	}
	return nil
}

// span is a half-open range of microseconds.
type span struct{ from, to int64 }

// summariseMinutes brings the summaries of unsealed days up to now.
func (db *DB) summariseMinutes(ctx context.Context, now time.Time) error {
	target := floorTo(now.UnixMicro()-lateness, minuteMicros)
	db.mu.Lock()
	from := db.minutes.through
	db.minutes.claimed = max(target, from)
	stale := maps.Clone(db.minutes.stale)
	db.mu.Unlock()
	known, err := db.Series(ctx)
	if err != nil {
		return err
	}
	groups := map[store.ID][]store.ID{}
	for id := range known {
		groups[id/groupSeries] = append(groups[id/groupSeries], id)
	}
	for _, s := range db.minutesDue(from, target, stale) {
		db.mu.Lock()
		_, unsealed := db.touched[dayOf(s.from)]
		db.mu.Unlock()
		wanted := groups
		if !unsealed {
			wanted = nil // the day has better summaries: only forget the mark
		}
		if err := db.summariseSpan(ctx, s, wanted, stale); err != nil {
			return fail("summarise minutes", err)
		}
	}
	return nil
}

// minutesDue lists what to summarise, an hour at most at a time: of every
// unsealed day what is new, and the stale minutes.
func (db *DB) minutesDue(from, target int64, stale map[int64]int) []span {
	var out []span
	days := db.touchedDays(func(int64, time.Time) bool { return true })
	for _, day := range days {
		for at := max(from, day*dayMicros); at < min(target, (day+1)*dayMicros); at = floorTo(at, hourMicros) + hourMicros {
			out = append(out, span{at, min(target, floorTo(at, hourMicros)+hourMicros)})
		}
	}
	for t := range stale {
		if t < from {
			out = append(out, span{t, t + minuteMicros})
		}
	}
	return out
}

// sparse is the number of values a minute below which its summary would save
// nothing over reading them.
const sparse = 4

// minuteRow is the summary of one minute and group.
type minuteRow struct {
	t     int64
	group store.ID
	body  []byte
}

func (db *DB) summariseSpan(ctx context.Context, s span, groups map[store.ID][]store.ID, stale map[int64]int) error {
	var rows []minuteRow
	for group, ids := range groups {
		cols, err := db.columns(ctx, ids, s.from, s.to, false)
		if err != nil {
			return err
		}
		rows = append(rows, minuteRows(s, group, ids, cols)...)
	}
	return db.writeMinutes(ctx, s, rows, stale)
}

func minuteRows(s span, group store.ID, ids []store.ID, cols []column) []minuteRow {
	most := 0
	bodies := map[int64]*[groupSeries]store.Bucket{}
	for i, c := range cols {
		most = max(most, len(c))
		for _, v := range c {
			minute := floorTo(v.At, minuteMicros)
			if bodies[minute] == nil {
				bodies[minute] = &[groupSeries]store.Bucket{}
			}
			add(&bodies[minute][ids[i]%groupSeries], v)
		}
	}
	if int64(most) < sparse*(s.to-s.from)/minuteMicros {
		return nil
	}
	rows := make([]minuteRow, 0, len(bodies))
	for t, b := range bodies {
		rows = append(rows, minuteRow{t, group, appendMinute(nil, b)})
	}
	return rows
}

// writeMinutes replaces the summaries of a span and records, in the same
// transaction, that they reach so far. A minute that became stale again
// meanwhile stays so.
func (db *DB) writeMinutes(ctx context.Context, s span, rows []minuteRow, stale map[int64]int) error {
	db.mu.Lock()
	defer db.mu.Unlock()
	through := max(db.minutes.through, s.to)
	var fresh []int64
	for t, n := range stale {
		if t >= s.from && t < s.to && db.minutes.stale[t] == n {
			fresh = append(fresh, t)
		}
	}
	err := db.inTx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM minute WHERE t >= ? AND t < ?`, s.from, s.to); err != nil {
			return err
		}
		for _, r := range rows {
			if _, err := tx.ExecContext(ctx, `INSERT INTO minute (t, grp, body) VALUES (?, ?, ?)`, r.t, r.group, r.body); err != nil {
				return err
			}
		}
		for _, t := range fresh {
			if _, err := tx.ExecContext(ctx, `DELETE FROM stale_minute WHERE t = ?`, t); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO meta (key, value) VALUES ('minutes_through', ?)`, strconv.FormatInt(through, 10))
		return err
	})
	if err != nil {
		return err
	}
	for _, t := range fresh {
		delete(db.minutes.stale, t)
	}
	db.minutes.through = through
	return nil
}
