package embedded

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"math"
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

// minuteTrend adds an unsealed stretch to a trend whose step is made of whole
// minutes: from the summaries there are, and from the scans for the rest. The
// caller holds the gate.
func (db *DB) minuteTrend(ctx context.Context, g store.Grid, ids []store.ID, s span, out [][]store.Bucket) error {
	db.mu.Lock()
	stale := maps.Clone(db.minutes.stale)
	db.mu.Unlock()
	for group, members := range byGroup(ids) {
		raw, err := db.readMinutes(ctx, g, group, members, s, stale, out)
		if err != nil {
			return err
		}
		part, cols := make([]store.ID, len(members)), make([][]store.Bucket, len(members))
		for i, m := range members {
			part[i], cols[i] = ids[m.column], out[m.column]
		}
		for _, r := range raw {
			if err := db.rawTrend(ctx, g, part, r, cols); err != nil {
				return err
			}
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

// readMinutes adds the summaries of s and returns what they do not cover.
func (db *DB) readMinutes(ctx context.Context, g store.Grid, group store.ID, members []member, s span, stale map[int64]int, out [][]store.Bucket) (raw []span, err error) {
	rows, err := db.read.QueryContext(ctx, `SELECT t, body FROM minute WHERE grp = ? AND t >= ? AND t < ? ORDER BY t`, group, s.from, s.to)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	rest := s
	for rows.Next() {
		var t int64
		var body sql.RawBytes
		if err := rows.Scan(&t, &body); err != nil {
			return nil, err
		}
		if stale[t] > 0 {
			continue
		}
		var buckets [groupSeries]store.Bucket
		if err := decodeMinute(body, &buckets); err != nil {
			db.notice("summary of the minute at %s is damaged, its scans are read: %v", time.UnixMicro(t).UTC().Format(time.RFC3339), err)
			continue
		}
		for _, m := range members {
			out[m.column][g.Place(t)].Merge(buckets[m.place])
		}
		if t > rest.from {
			raw = append(raw, span{rest.from, t})
		}
		rest.from = t + minuteMicros
	}
	if rest.from < rest.to {
		raw = append(raw, rest)
	}
	return raw, rows.Err()
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
