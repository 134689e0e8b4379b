package embedded

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/archive"
)

// sample is one stored value of a series.
type sample = archive.Sample

func pointOf(s sample) store.Point {
	return store.Point{Time: time.UnixMicro(s.At).UTC(), Value: s.Value, Quality: s.Quality, Reason: s.Reason}
}

// erased says that s takes back what was stored for its instant.
func erased(s sample) bool { return s.Quality == 0 && s.Reason == store.Erased }

// column holds the samples of one series. Once settled they are ordered by
// time with one sample per instant, and none is erased.
type column []sample

// settle orders c, lets the later arrival at one instant win and leaves out
// what was erased.
func (c column) settle() column { return slices.DeleteFunc(c.arrange(), erased) }

// arrange orders c and lets the later arrival at one instant win.
func (c column) arrange() column {
	if !slices.IsSortedFunc(c, byArrival) {
		slices.SortStableFunc(c, byArrival)
	}
	kept := c[:0]
	for i := range c {
		if i+1 < len(c) && c[i+1].At == c[i].At {
			continue
		}
		kept = append(kept, c[i])
	}
	return kept
}

func byArrival(a, b sample) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Seq, b.Seq)) }

// columns reads the samples of ids in [from, to), settled. With context they
// carry source times and configuration versions. The caller holds the gate.
func (db *DB) columns(ctx context.Context, ids []store.ID, from, to int64, context bool) ([]column, error) {
	out := make([]column, len(ids))
	for _, day := range db.sealed.between(from, to) {
		if err := db.sealedColumns(day, ids, from, to, context, out); err != nil {
			return nil, fail("read "+dayName(day), err)
		}
	}
	return out, db.hotColumns(ctx, ids, from, to, out)
}

// sealedColumns appends the samples of one sealed day.
func (db *DB) sealedColumns(day int64, ids []store.ID, from, to int64, context bool, out []column) error {
	for _, b := range db.sealed.days[day].blocks {
		for k, id := range ids {
			i := slices.Index(b.series, id)
			if i < 0 {
				continue
			}
			start := len(out[k])
			c, err := db.readBlock(b, i, out[k], context)
			if err != nil {
				return err
			}
			out[k] = clip(c, start, from, to)
		}
	}
	return nil
}

// clip keeps, of what follows start, the samples in [from, to).
func clip(c column, start int, from, to int64) column {
	fresh := c[start:]
	at := func(s sample, t int64) int { return cmp.Compare(s.At, t) }
	i, _ := slices.BinarySearchFunc(fresh, from, at)
	j, _ := slices.BinarySearchFunc(fresh, to, at)
	return append(c[:start], fresh[i:max(i, j)]...)
}

// hotColumns appends the unsealed samples of ids in [from, to) and settles.
func (db *DB) hotColumns(ctx context.Context, ids []store.ID, from, to int64, out []column) error {
	db.mu.Lock()
	layouts := db.layouts.carrying(ids)
	db.mu.Unlock()
	for _, l := range append(layouts, layout{}) {
		if err := db.readLayout(ctx, l, ids, from, to, out); err != nil {
			return fail("read scans", err)
		}
	}
	for i := range out {
		out[i] = out[i].settle()
	}
	return nil
}

func (db *DB) readLayout(ctx context.Context, l layout, ids []store.ID, from, to int64, out []column) error {
	rows, err := db.read.QueryContext(ctx,
		`SELECT seq, t, config, body FROM scan WHERE layout = ? AND t >= ? AND t < ? ORDER BY t, seq`, l.id, from, to)
	if err != nil {
		return err
	}
	defer rows.Close()
	var at places
	for rows.Next() {
		var s sample
		var raw sql.RawBytes
		if err := rows.Scan(&s.Seq, &s.At, &s.Config, &raw); err != nil {
			return err
		}
		if s.Seq <= db.sealed.through(s.At) {
			continue
		}
		b, err := decodeBody(raw, l.ids)
		if err != nil {
			db.skip(s.Seq, err)
			continue
		}
		if at == nil || l.id == 0 {
			at = findPlaces(b.ids, ids)
		}
		if err := at.take(b, s, out); err != nil {
			db.skip(s.Seq, err)
		}
	}
	return rows.Err()
}

// place says that value number from of a scan belongs to column to.
type place struct{ from, to int }

type places []place

// findPlaces finds wanted in a scan's list; of a series listed twice the last
// one counts, as it would have in two scans.
func findPlaces(listed, wanted []store.ID) places {
	last := make(map[store.ID]int, len(listed))
	for i, id := range listed {
		last[id] = i
	}
	out := make(places, 0, len(wanted))
	for to, id := range wanted {
		if from, ok := last[id]; ok {
			out = append(out, place{from, to})
		}
	}
	return out
}

// take appends the wanted values of b to out; s carries what they share.
func (p places) take(b body, s sample, out []column) error {
	var source []int64
	if b.source != nil && len(p) > 0 {
		source = make([]int64, len(b.ids))
		if err := b.sources(source); err != nil {
			return err
		}
	}
	for _, at := range p {
		s.Value, s.Source = b.value(at.from), archive.NoSource
		s.Quality, s.Reason = b.quality(at.from)
		if source != nil {
			s.Source = source[at.from]
		}
		out[at.to] = append(out[at.to], s)
	}
	return nil
}
