package embedded

import (
	"context"
	"fmt"
	"time"

	"bridlewatch/collector/store"
)

// widths are the bucket widths, in microseconds, that a trend step is a
// multiple of: below a second the decimal ones, then those for which
// summaries are kept.
var widths = []int64{
	1, 10, 100, 1_000, 10_000, 100_000,
	int64(time.Second / time.Microsecond),
	int64(10 * time.Second / time.Microsecond),
	int64(time.Minute / time.Microsecond),
	int64(10 * time.Minute / time.Microsecond),
	int64(time.Hour / time.Microsecond),
	int64(24 * time.Hour / time.Microsecond),
}

// grid is the shared buckets of a trend: n of step, from start.
type grid struct {
	start, step int64
	n           int
}

func (g grid) end() int64 { return g.start + int64(g.n)*g.step }

// place returns the bucket of an instant inside the grid.
func (g grid) place(at int64) int { return int((at - g.start) / g.step) }

// newGrid lays at most width buckets over [from, to). The step is a multiple
// of the coarsest base width that fits, so that a bucket is made of whole
// summaries, and the buckets start at whole multiples of the step.
func newGrid(from, to int64, width int) grid {
	least := max(1, (to-from+int64(width)-1)/int64(width))
	for {
		step := roundUp(least)
		g := grid{start: floorTo(from, step), step: step}
		g.n = int((to - g.start + step - 1) / step)
		if g.n <= width {
			return g
		}
		least = step + 1
	}
}

// roundUp returns the smallest allowed step that is at least x.
func roundUp(x int64) int64 {
	base := widths[0]
	for _, w := range widths {
		if w <= x {
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

// Trend returns at most width shared buckets for the series, over [from, to)
// widened outward to whole buckets.
func (db *DB) Trend(ctx context.Context, ids []store.ID, from, to time.Time, width int) (store.Trend, error) {
	if width < 2 || !from.Before(to) {
		return store.Trend{}, fmt.Errorf("%w: trend of %d buckets from %s to %s; want at least two buckets and from before to",
			store.ErrInvalid, width, from.Format(time.RFC3339), to.Format(time.RFC3339))
	}
	if err := db.checkIDs(ids...); err != nil {
		return store.Trend{}, err
	}
	g := newGrid(from.UnixMicro(), to.UnixMicro(), width)
	cols, err := db.columns(ctx, ids, g.start, g.end())
	if err != nil {
		return store.Trend{}, err
	}
	out := store.Trend{
		From:    time.UnixMicro(g.start).UTC(),
		To:      time.UnixMicro(g.end()).UTC(),
		Step:    time.Duration(g.step) * time.Microsecond,
		Columns: make([][]store.Bucket, len(ids)),
	}
	for i, c := range cols {
		out.Columns[i] = make([]store.Bucket, g.n)
		for _, s := range c {
			add(&out.Columns[i][g.place(s.at)], s)
		}
	}
	return out, nil
}

// add counts one sample into a bucket.
func add(b *store.Bucket, s sample) {
	if !usable(s.quality) {
		b.Bad++
		return
	}
	if b.Count == 0 {
		b.Min, b.Max = s.value, s.value
	}
	b.Min, b.Max = min(b.Min, s.value), max(b.Max, s.value)
	b.Sum += s.value
	b.Count++
}
