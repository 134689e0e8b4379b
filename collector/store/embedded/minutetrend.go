package embedded

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"time"

	"bridlewatch/collector/store"
)

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
