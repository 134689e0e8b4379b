package embedded

import (
	"context"
	"database/sql"
	"encoding/binary"
	"maps"
	"slices"

	"bridlewatch/collector/store"
)

const (
	// partValues is how many values a row carries: as many as fill a page of the
	// database, also when each has a quality. Fewer would not spare a reader of
	// one gauge any page, and cost every commit more of them.
	partValues = 400
	maxLayouts = 4096 // beyond, rows carry their list of series themselves
)

// layout is an ordered list of series carried by scan rows. Layout 0 means
// that the row has its own list.
type layout struct {
	id  int64
	ids []store.ID
}

// layoutTable knows all stored layouts. Layouts are immutable.
type layoutTable struct {
	byID   map[int64]layout
	byKey  map[string]int64
	recent [256]layout // by place of the part within the scan: the common hit
}

func loadLayouts(ctx context.Context, q *sql.DB) (layoutTable, error) {
	t := layoutTable{byID: map[int64]layout{}, byKey: map[string]int64{}}
	rows, err := q.QueryContext(ctx, `SELECT id, series FROM layout`)
	if err != nil {
		return t, err
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		var key []byte
		if err := rows.Scan(&id, &key); err != nil {
			return t, err
		}
		t.add(layout{id, decodeIDs(key)}, string(key))
	}
	return t, rows.Err()
}

func (t *layoutTable) add(l layout, key string) {
	t.byID[l.id], t.byKey[key] = l, l.id
}

// find returns the layout of values, which are part n of a scan; ok is false
// when it is not known yet.
func (t *layoutTable) find(n int, values []store.Value) (l layout, ok bool) {
	recent := &t.recent[n%len(t.recent)]
	if recent.holds(values) {
		return *recent, true
	}
	id, ok := t.byKey[string(encodeIDs(values))]
	if ok {
		*recent = t.byID[id]
	}
	return t.byID[id], ok
}

func (l layout) holds(values []store.Value) bool {
	if len(l.ids) != len(values) {
		return false
	}
	for i := range values {
		if l.ids[i] != values[i].ID {
			return false
		}
	}
	return true
}

// carrying returns the layouts that carry any of ids, in a fixed order.
func (t *layoutTable) carrying(ids []store.ID) []layout {
	want := make(map[store.ID]bool, len(ids))
	for _, id := range ids {
		want[id] = true
	}
	var out []layout
	for _, l := range t.byID {
		if slices.ContainsFunc(l.ids, func(id store.ID) bool { return want[id] }) {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b layout) int { return int(a.id - b.id) })
	return out
}

// all returns every layout.
func (t *layoutTable) all() []layout {
	return slices.Collect(maps.Values(t.byID))
}

func encodeIDs(values []store.Value) []byte {
	b := make([]byte, 0, 4*len(values))
	for i := range values {
		b = binary.LittleEndian.AppendUint32(b, uint32(values[i].ID))
	}
	return b
}

func encodeSeries(ids []store.ID) []byte {
	b := make([]byte, 0, 4*len(ids))
	for _, id := range ids {
		b = binary.LittleEndian.AppendUint32(b, uint32(id))
	}
	return b
}

func decodeIDs(b []byte) []store.ID {
	ids := make([]store.ID, len(b)/4)
	for i := range ids {
		ids[i] = store.ID(binary.LittleEndian.Uint32(b[4*i:]))
	}
	return ids
}
