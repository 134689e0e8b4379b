package store

import (
	"math/rand/v2"
	"testing"
	"time"
)

func TestGrid(t *testing.T) {
	const s, m, h, d = 1_000_000, 60_000_000, 3_600_000_000, 86_400_000_000
	for _, c := range []struct {
		name     string
		from, to int64
		width    int
		finest   int64
		step     int64
	}{
		{"a day at 1200", 20000 * d, 20001 * d, 1200, 1, 2 * m},
		{"a day at 1200 of ten-minute summaries", 20000 * d, 20001 * d, 1200, 10 * m, 10 * m},
		{"30 days at 1200", 20000 * d, 20030 * d, 1200, 1, 40 * m},
		{"a year at 1200", 20000 * d, 20365 * d, 1200, 1, 8 * h},
		{"ten years at 1200", 16350 * d, 20000 * d, 1200, 1, 4 * d},
		{"an hour at 1200", 20000 * d, 20000*d + h, 1200, 1, 3 * s},
		{"ten seconds at 1000", 20000 * d, 20000*d + 10*s, 1000, 1, 10_000},
		{"one microsecond", 7, 8, 2, 1, 1},
	} {
		if g := NewGrid(c.from, c.to, c.width, c.finest); g.Step != c.step {
			t.Errorf("%s: step %s, want %s", c.name, time.Duration(g.Step)*1000, time.Duration(c.step)*1000)
		}
	}
}

func TestGridCoversAnyRange(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 100_000 {
		from := r.Int64N(1 << uint(1+r.IntN(60)))
		to := from + 1 + r.Int64N(1<<uint(1+r.IntN(58)))
		width := 2 + r.IntN(3000)
		g := NewGrid(from, to, width, 1)
		if g.N > width || g.N < 1 || g.Start > from || g.End() < to || g.Start%g.Step != 0 {
			t.Fatalf("[%d, %d) at %d gave %+v", from, to, width, g)
		}
	}
}
