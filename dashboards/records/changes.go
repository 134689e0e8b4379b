package records

import (
	"context"
	"math"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
)

// Seen is the newest change of a switch in each direction that history holds.
type Seen struct {
	Tag             string
	Rising, Falling *record.Change // nil: not seen
}

// Changes looks in history for the changes of every switch of a gauge in
// [from, to), with the level at that moment by an instrument that does not
// work the switch, where there is one.
func Changes(ctx context.Context, s store.Store, sheet *datasheet.Sheet, from, to time.Time) ([]Seen, error) {
	series, err := s.Series(ctx)
	if err != nil {
		return nil, err
	}
	ids := map[string]store.ID{}
	for id, one := range series {
		if one.Gauge == sheet.Tag && one.Class == store.Derived {
			ids[one.Name] = id
		}
	}
	var out []Seen
	for _, p := range sheet.Points {
		seen := Seen{Tag: p.Tag}
		if id, ok := ids["point."+p.Tag]; ok {
			states, err := s.Points(ctx, id, from, to)
			if err != nil {
				return nil, err
			}
			for i := 1; i < len(states); i++ {
				if err := seen.note(ctx, s, ids, sheet, p, states[i-1], states[i]); err != nil {
					return nil, err
				}
			}
		}
		out = append(out, seen)
	}
	return out, nil
}

// note keeps a change between two neighbouring scans.
func (seen *Seen) note(ctx context.Context, s store.Store, ids map[string]store.ID, sheet *datasheet.Sheet, p datasheet.Point, before, after store.Point) error {
	const usable = 3 // quality uncertain or good
	if before.Quality < usable || after.Quality < usable || before.Value == after.Value {
		return nil
	}
	c, err := changeAt(ctx, s, ids, sheet, p, before.Time, after.Time)
	if err != nil || c == nil {
		return err
	}
	if after.Value > before.Value {
		seen.Rising = c
	} else {
		seen.Falling = c
	}
	return nil
}

// witnesses are the levels that may tell where a switch changed, in the order
// they are preferred: first one that does not work the switch itself.
func witnesses(sheet *datasheet.Sheet, p datasheet.Point) (names, tags []string) {
	add := func(name, tag string) { names, tags = append(names, name), append(tags, tag) }
	if sheet.Transmitter != nil && p.ByFloat() {
		add("transmitter", sheet.Transmitter.Tag)
	}
	if sheet.Float.Tag != "" {
		add("float", sheet.Float.Tag)
	}
	if sheet.Transmitter != nil && !p.ByFloat() {
		add("transmitter", sheet.Transmitter.Tag)
	}
	return names, tags
}

// changeAt finds the level half way between two scans; how far it moved
// between them is part of its uncertainty.
func changeAt(ctx context.Context, s store.Store, ids map[string]store.ID, sheet *datasheet.Sheet, p datasheet.Point, before, after time.Time) (*record.Change, error) {
	names, tags := witnesses(sheet, p)
	for i, name := range names {
		levelID, ok := ids["level."+name]
		uID, known := ids["u."+name]
		if !ok || !known {
			continue
		}
		a, err := s.Last(ctx, []store.ID{levelID, uID}, before)
		if err != nil {
			return nil, err
		}
		b, err := s.Last(ctx, []store.ID{levelID, uID}, after)
		if err != nil {
			return nil, err
		}
		if !fresh(a[0], before) || !fresh(b[0], after) || !fresh(b[1], after) {
			continue
		}
		moved := math.Abs(b[0].Value - a[0].Value)
		return &record.Change{
			Level: quantity.Length((a[0].Value + b[0].Value) / 2), U: quantity.Length(2 * math.Hypot(b[1].Value, moved/math.Sqrt(12))),
			Witness: tags[i], At: after,
		}, nil
	}
	return nil, nil
}

// fresh reports whether a level belongs to the scan it was asked for.
func fresh(p store.Point, at time.Time) bool {
	return p.Quality >= 3 && !p.Time.Before(at.Add(-2*time.Second))
}
