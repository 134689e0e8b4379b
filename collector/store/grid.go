package store

import "time"

// stepBases are the widths of which a trend step is a multiple: below a second
// the decimal ones, then those for which summaries are kept.
var stepBases = []time.Duration{
	time.Microsecond, 10 * time.Microsecond, 100 * time.Microsecond,
	time.Millisecond, 10 * time.Millisecond, 100 * time.Millisecond,
	time.Second, 10 * time.Second, time.Minute, 10 * time.Minute, time.Hour, 24 * time.Hour,
}

// Grid is the shared buckets of a trend: N of Step, from Start. Times are
// microseconds since 1970 UTC.
type Grid struct {
	Start, Step int64
	N           int
}

// NewGrid lays at most width buckets, at least 2, over [from, to) microseconds.
// The step is a multiple of the coarsest base width that fits, so that a
// bucket is made of whole summaries, and is at least finest; the buckets start
// at its whole multiples.
func NewGrid(from, to int64, width int, finest int64) Grid {
	least := max(finest, (to-from+int64(width)-1)/int64(width))
	for {
		step := roundUp(least)
		g := Grid{Start: floorTo(from, step), Step: step}
		g.N = int((to - g.Start + step - 1) / step)
		if g.N <= width {
			return g
		}
		least = step + 1
	}
}

// End returns the end of the last bucket.
func (g Grid) End() int64 { return g.Start + int64(g.N)*g.Step }

// Place returns the bucket of an instant inside the grid.
func (g Grid) Place(at int64) int { return int((at - g.Start) / g.Step) }

// Trend returns an empty trend of series columns on the grid.
func (g Grid) Trend(series int) Trend {
	t := Trend{
		From:    time.UnixMicro(g.Start).UTC(),
		To:      time.UnixMicro(g.End()).UTC(),
		Step:    time.Duration(g.Step) * time.Microsecond,
		Columns: make([][]Bucket, series),
	}
	for i := range t.Columns {
		t.Columns[i] = make([]Bucket, g.N)
	}
	return t
}

// roundUp returns the smallest allowed step that is at least x.
func roundUp(x int64) int64 {
	base := int64(1)
	for _, b := range stepBases {
		if w := b.Microseconds(); w <= x {
			base = w
		}
	}
	return (x + base - 1) / base * base
}

func floorTo(x, step int64) int64 {
	r := x % step
	if r < 0 {
		r += step
	}
	return x - r
}

// Merge counts the values of another bucket into b.
func (b *Bucket) Merge(o Bucket) {
	b.Bad += o.Bad
	if o.Count == 0 {
		return
	}
	if b.Count == 0 {
		b.Min, b.Max = o.Min, o.Max
	}
	b.Min, b.Max = min(b.Min, o.Min), max(b.Max, o.Max)
	b.Sum += o.Sum
	b.Count += o.Count
}
