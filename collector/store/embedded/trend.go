package embedded

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

func floorTo(x, step int64) int64 {
	r := x % step
	if r < 0 {
		r += step
	}
	return x - r
}

// Trend returns at most width shared buckets for the series, over [from, to)
// widened outward to whole buckets. Where only summaries are left the step is
// at least theirs.
func (db *DB) Trend(ctx context.Context, ids []store.ID, from, to time.Time, width int) (store.Trend, error) {
	if width < 2 || !from.Before(to) {
		return store.Trend{}, fmt.Errorf("%w: trend of %d buckets from %s to %s; want at least two buckets and from before to",
			store.ErrInvalid, width, from.Format(time.RFC3339), to.Format(time.RFC3339))
	}
	if err := db.checkIDs(ids...); err != nil {
		return store.Trend{}, err
	}
	db.sealed.gate.RLock()
	defer db.sealed.gate.RUnlock()
	g := store.NewGrid(from.UnixMicro(), to.UnixMicro(), width, db.finest(from.UnixMicro(), to.UnixMicro()))
	out := g.Trend(len(ids))
	return out, fail("read trend", db.fill(ctx, g, ids, out.Columns))
}

// finest returns the smallest step that the kept data of a range allows.
func (db *DB) finest(from, to int64) int64 {
	today := dayOf(db.now().UnixMicro())
	db.mu.Lock()
	defer db.mu.Unlock()
	least := int64(1)
	for day := dayOf(from); day <= dayOf(to-1); day++ {
		d := db.sealed.days[day]
		if _, hot := db.touched[day]; d == nil || hot || len(d.blocks) > 0 {
			continue
		}
		if keep := db.retain.TensDays; keep > 0 && day < today-int64(keep) {
			return hourMicros
		}
		least = tenMicros
	}
	return least
}

// fill adds everything stored to a trend: sealed days from their summaries
// when the step is made of those, unsealed ones from the minutes', the rest
// from samples. The caller holds the gate.
func (db *DB) fill(ctx context.Context, g store.Grid, ids []store.ID, out [][]store.Bucket) error {
	summaries, minutes := g.Step%tenMicros == 0, g.Step%minuteMicros == 0
	for _, s := range db.stretches(g) {
		var err error
		switch {
		case s.state == settled && summaries:
			err = db.summaryTrend(ctx, g, ids, s.span, out)
		case s.state == unsealed && minutes:
			err = db.minuteTrend(ctx, g, ids, s.span, out)
		default:
			err = db.rawTrend(ctx, g, ids, s.span, out)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// dayState is where the samples of a day are.
type dayState uint8

const (
	settled  dayState = iota // sealed, nothing came since
	unsealed                 // in scans only
	mixed                    // sealed, and scans came since
)

type stretch struct {
	span
	state dayState
}

// stretches cuts a grid into runs of days of one state, leaving out what
// holds nothing.
func (db *DB) stretches(g store.Grid) []stretch {
	days := slices.Clone(db.sealed.order)
	for day, d := range db.sealed.days {
		if len(d.blocks) == 0 {
			days = append(days, day)
		}
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	for day := range db.touched {
		days = append(days, day)
	}
	slices.Sort(days)
	var out []stretch
	for _, day := range slices.Compact(days) {
		s := stretch{span{max(g.Start, day*dayMicros), min(g.End(), (day+1)*dayMicros)}, db.stateOf(day)}
		if s.from >= s.to {
			continue
		}
		if n := len(out); n > 0 && out[n-1].to == s.from && out[n-1].state == s.state {
			out[n-1].to = s.to
			continue
		}
		out = append(out, s)
	}
	return out
}

// stateOf is called with db.mu held.
func (db *DB) stateOf(day int64) dayState {
	_, hot := db.touched[day]
	switch d := db.sealed.days[day]; {
	case !hot:
		return settled
	case d == nil || len(d.blocks) == 0:
		return unsealed
	default:
		return mixed
	}
}

// rawDays bounds the memory of a trend over samples.
const rawDays = 2

func (db *DB) rawTrend(ctx context.Context, g store.Grid, ids []store.ID, s span, out [][]store.Bucket) error {
	for at := s.from; at < s.to; at += rawDays * dayMicros {
		cols, err := db.columns(ctx, ids, at, min(s.to, at+rawDays*dayMicros), false)
		if err != nil {
			return err
		}
		for i, c := range cols {
			for _, v := range c {
				add(&out[i][g.Place(v.At)], v)
			}
		}
	}
	return nil
}

// summaryTrend adds whole sealed days from the coarsest summaries that fit.
func (db *DB) summaryTrend(ctx context.Context, g store.Grid, ids []store.ID, s span, out [][]store.Bucket) error {
	column, width, n := `NULL`, dayMicros, 0
	switch {
	case g.Step%dayMicros == 0:
	case g.Step%hourMicros == 0:
		column, width, n = `hours`, hourMicros, hoursADay
	default:
		column, width, n = `tens`, tenMicros, tensADay
	}
	for i, id := range ids {
		rows, err := db.read.QueryContext(ctx,
			`SELECT day, min, max, sum, count, bad, `+column+` FROM summary WHERE series = ? AND day >= ? AND day <= ?`,
			id, dayOf(s.from), dayOf(s.to-1))
		if err != nil {
			return err
		}
		if err := db.addSummaries(rows, g, s, width, make([]store.Bucket, n), out[i]); err != nil {
			return err
		}
	}
	return nil
}

func (db *DB) addSummaries(rows *sql.Rows, g store.Grid, s span, width int64, parts, out []store.Bucket) error {
	defer rows.Close()
	for rows.Next() {
		var day int64
		var all store.Bucket
		var packed sql.RawBytes
		if err := rows.Scan(&day, &all.Min, &all.Max, &all.Sum, &all.Count, &all.Bad, &packed); err != nil {
			return err
		}
		if len(parts) == 0 {
			out[g.Place(day*dayMicros)].Merge(all)
			continue
		}
		if packed == nil {
			continue // past its retention
		}
		if err := db.pack.unpack(packed, parts); err != nil {
			db.notice("summary of %s is damaged and left out: %v", dayName(day), err)
			continue
		}
		for k := range parts {
			if at := day*dayMicros + int64(k)*width; at >= s.from && at < s.to {
				out[g.Place(at)].Merge(parts[k])
			}
		}
	}
	return rows.Err()
}

// add counts one sample into a bucket.
func add(b *store.Bucket, s sample) {
	if !s.Usable() {
		b.Bad++
		return
	}
	if b.Count == 0 {
		b.Min, b.Max = s.Value, s.Value
	}
	b.Min, b.Max = min(b.Min, s.Value), max(b.Max, s.Value)
	b.Sum += s.Value
	b.Count++
}
