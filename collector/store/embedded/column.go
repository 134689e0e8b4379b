package embedded

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

// sample is one stored value of a series.
type sample struct {
	at      int64 // microseconds since 1970 UTC
	seq     int64 // of the hot row; 0 when sealed
	value   float64
	source  int64 // microseconds relative to at, or noSource
	config  uint32
	quality uint8
	reason  uint8
}

func (s sample) point() store.Point {
	return store.Point{Time: time.UnixMicro(s.at).UTC(), Value: s.value, Quality: s.quality, Reason: s.reason}
}

// column holds the samples of one series. Once settled they are ordered by
// time with one sample per instant.
type column []sample

// settle orders c and lets the later arrival at one instant win.
func (c column) settle() column {
	later := func(a, b sample) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.seq, b.seq)) }
	if !slices.IsSortedFunc(c, later) {
		slices.SortStableFunc(c, later)
	}
	kept := c[:0]
	for i, s := range c {
		if i+1 < len(c) && c[i+1].at == s.at {
			continue
		}
		kept = append(kept, s)
	}
	return kept
}

// hotColumns reads the unsealed samples of ids in [from, to).
func (db *DB) hotColumns(ctx context.Context, ids []store.ID, from, to int64) ([]column, error) {
	db.mu.Lock()
	layouts := db.layouts.carrying(ids)
	db.mu.Unlock()
	out := make([]column, len(ids))
	for _, l := range append(layouts, layout{}) {
		if err := db.readLayout(ctx, l, ids, from, to, out); err != nil {
			return nil, fail("read scans", err)
		}
	}
	for i := range out {
		out[i] = out[i].settle()
	}
	return out, nil
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
		if err := rows.Scan(&s.seq, &s.at, &s.config, &raw); err != nil {
			return err
		}
		b, err := decodeBody(raw, l.ids)
		if err != nil {
			db.log.Error("damaged scan skipped", "seq", s.seq, "err", err)
			continue
		}
		if at == nil || l.id == 0 {
			at = findPlaces(b.ids, ids)
		}
		if err := at.take(b, s, out); err != nil {
			db.log.Error("damaged scan skipped", "seq", s.seq, "err", err)
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
		s.value, s.source = b.value(at.from), noSource
		s.quality, s.reason = b.quality(at.from)
		if source != nil {
			s.source = source[at.from]
		}
		out[at.to] = append(out[at.to], s)
	}
	return nil
}
