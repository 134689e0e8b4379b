package records

import (
	"context"
	"slices"
	"time"
)

// Due is when a gauge was last verified.
type Due struct {
	Gauge, Service, Area string
	Last                 *Entry    // nil: never, as far as this book goes back
	Every                int       // days, as the configuration says; 0: nobody has said
	Next                 time.Time // when it is due; zero: at once where Every is stated, else never
}

// Overdue reports whether the time the user has set is over.
func (d *Due) Overdue(now time.Time) bool { return d.Every > 0 && !now.Before(d.Next) }

// Due lists every gauge with its last verification: first those that have a
// time set, soonest due first, then the others, longest ago first. It computes
// no interval: how often is the user's decision.
func (b *Book) Due(ctx context.Context) ([]Due, error) {
	all, err := b.List(ctx, Filter{})
	if err != nil {
		return nil, err
	}
	last := map[string]*Entry{}
	for i := range all {
		e := &all[i]
		if e.Kind.Verifies() && (last[e.Gauge] == nil || e.At.After(last[e.Gauge].At)) {
			last[e.Gauge] = e
		}
	}
	var out []Due
	for _, g := range b.Plant.Gauges() {
		d := Due{Gauge: g.Sheet.Tag, Service: g.Sheet.Service, Area: g.Sheet.Area, Last: last[g.Sheet.Tag], Every: g.Sheet.Limits.VerifyDays}
		if d.Every > 0 && d.Last != nil {
			d.Next = d.Last.At.AddDate(0, 0, d.Every)
		}
		out = append(out, d)
	}
	slices.SortStableFunc(out, sooner)
	return out, nil
}

func sooner(a, b Due) int {
	switch {
	case (a.Every > 0) != (b.Every > 0):
		if a.Every > 0 {
			return -1
		}
		return 1
	case a.Every > 0:
		return a.Next.Compare(b.Next)
	}
	return when(a).Compare(when(b))
}

func when(d Due) time.Time {
	if d.Last == nil {
		return time.Time{}
	}
	return d.Last.At
}
