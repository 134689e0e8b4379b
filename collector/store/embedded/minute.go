package embedded

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
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

// minuteTable knows which minutes of unsealed days have a summary: all before
// through, except the stale ones. Guarded by DB.mu.
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
	stale := make(map[int64]int, len(db.minutes.stale))
	for t, n := range db.minutes.stale {
		stale[t] = n
	}
	db.mu.Unlock()
	for _, s := range db.minutesDue(from, target, stale) {
		if err := db.summariseSpan(ctx, s); err != nil {
			return fail("summarise minutes", err)
		}
	}
	return fail("summarise minutes", db.minutesDone(ctx, max(target, from), stale))
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
		if _, ok := slices.BinarySearch(days, dayOf(t)); ok && t < from {
			out = append(out, span{t, t + minuteMicros})
		}
	}
	return out
}

func (db *DB) summariseSpan(ctx context.Context, s span) error {
	known, err := db.Series(ctx)
	if err != nil {
		return err
	}
	groups := map[store.ID][]store.ID{}
	for id := range known {
		groups[id/groupSeries] = append(groups[id/groupSeries], id)
	}
	for group, ids := range groups {
		slices.Sort(ids)
		cols, err := db.columns(ctx, ids, s.from, s.to, false)
		if err != nil {
			return err
		}
		if err := db.writeMinutes(ctx, s, group, ids, cols); err != nil {
			return err
		}
	}
	return nil
}

func (db *DB) writeMinutes(ctx context.Context, s span, group store.ID, ids []store.ID, cols []column) error {
	bodies := map[int64]*[groupSeries]store.Bucket{}
	for i, c := range cols {
		for _, v := range c {
			minute := floorTo(v.At, minuteMicros)
			if bodies[minute] == nil {
				bodies[minute] = &[groupSeries]store.Bucket{}
			}
			add(&bodies[minute][ids[i]%groupSeries], v)
		}
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	return db.inTx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM minute WHERE grp = ? AND t >= ? AND t < ?`, group, s.from, s.to); err != nil {
			return err
		}
		for t, b := range bodies {
			if _, err := tx.ExecContext(ctx, `INSERT INTO minute (t, grp, body) VALUES (?, ?, ?)`, t, group, appendMinute(nil, b)); err != nil {
				return err
			}
		}
		return nil
	})
}

// minutesDone records how far the summaries reach. A minute that became stale
// again meanwhile stays so.
func (db *DB) minutesDone(ctx context.Context, through int64, stale map[int64]int) error {
	db.mu.Lock()
	defer db.mu.Unlock()
	if through == db.minutes.through && len(stale) == 0 {
		return nil
	}
	var done []int64
	for t, n := range stale {
		if db.minutes.stale[t] == n {
			done = append(done, t)
		}
	}
	err := db.inTx(ctx, func(tx *sql.Tx) error {
		for _, t := range done {
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
	for _, t := range done {
		delete(db.minutes.stale, t)
	}
	db.minutes.through = through
	return nil
}

// rawSpans returns the parts of s whose minutes have no valid summary.
func (m *minuteTable) rawSpans(s span) []span {
	var out []span
	for t := range m.stale {
		if t >= s.from && t < min(s.to, m.through) {
			out = append(out, span{t, min(s.to, t+minuteMicros)})
		}
	}
	slices.SortFunc(out, func(a, b span) int { return int(a.from - b.from) })
	if tail := max(s.from, m.through); tail < s.to {
		out = append(out, span{tail, s.to})
	}
	return out
}

// minuteTrend adds an unsealed stretch to a trend whose step is made of whole
// minutes. The caller holds the gate.
func (db *DB) minuteTrend(ctx context.Context, g grid, ids []store.ID, s span, out [][]store.Bucket) error {
	db.mu.Lock()
	raw := db.minutes.rawSpans(s)
	db.mu.Unlock()
	for group, members := range byGroup(ids) {
		if err := db.readMinutes(ctx, g, group, members, s, raw, out); err != nil {
			return err
		}
	}
	for _, r := range raw {
		if err := db.rawTrend(ctx, g, ids, r, out); err != nil {
			return err
		}
	}
	return nil
}

// member is a wanted series of a group: its place there and in the trend.
type member struct{ place, column int }

func byGroup(ids []store.ID) map[store.ID][]member {
	out := map[store.ID][]member{}
	for i, id := range ids {
		out[id/groupSeries] = append(out[id/groupSeries], member{int(id % groupSeries), i})
	}
	return out
}

func (db *DB) readMinutes(ctx context.Context, g grid, group store.ID, members []member, s span, raw []span, out [][]store.Bucket) error {
	rows, err := db.read.QueryContext(ctx, `SELECT t, body FROM minute WHERE grp = ? AND t >= ? AND t < ? ORDER BY t`, group, s.from, s.to)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var t int64
		var body sql.RawBytes
		if err := rows.Scan(&t, &body); err != nil {
			return err
		}
		if slices.ContainsFunc(raw, func(r span) bool { return t >= r.from && t < r.to }) {
			continue
		}
		var buckets [groupSeries]store.Bucket
		if err := decodeMinute(body, &buckets); err != nil {
			return err
		}
		for _, m := range members {
			merge(&out[m.column][g.place(t)], buckets[m.place])
		}
	}
	return rows.Err()
}

// appendMinute encodes which of the series have values and, for each, minimum,
// maximum and sum as float64 and the two counts as uvarint.
func appendMinute(b []byte, buckets *[groupSeries]store.Bucket) []byte {
	var present uint64
	for i, k := range buckets {
		if k.Count+k.Bad > 0 {
			present |= 1 << i
		}
	}
	b = binary.LittleEndian.AppendUint64(b, present)
	for _, k := range buckets {
		if k.Count+k.Bad == 0 {
			continue
		}
		for _, v := range []float64{k.Min, k.Max, k.Sum} {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		b = binary.AppendUvarint(b, uint64(k.Count))
		b = binary.AppendUvarint(b, uint64(k.Bad))
	}
	return b
}

func decodeMinute(b []byte, buckets *[groupSeries]store.Bucket) error {
	broken := fmt.Errorf("%w: summary of a minute", store.ErrCorrupt)
	if len(b) < 8 {
		return broken
	}
	present := binary.LittleEndian.Uint64(b)
	b = b[8:]
	for i := range buckets {
		if present&(1<<i) == 0 {
			continue
		}
		if len(b) < 26 {
			return broken
		}
		k := &buckets[i]
		for j, v := range []*float64{&k.Min, &k.Max, &k.Sum} {
			*v = math.Float64frombits(binary.LittleEndian.Uint64(b[8*j:]))
		}
		count, n := binary.Uvarint(b[24:])
		bad, m := binary.Uvarint(b[24+max(n, 0):])
		if n <= 0 || m <= 0 {
			return broken
		}
		k.Count, k.Bad, b = uint32(count), uint32(bad), b[24+n+m:]
	}
	return nil
}
