package symptom_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/symptom"
)

// A gap that goes elsewhere within minutes and stays is found after three
// hours. What a liquid, foam, a level or a hole in the data does is none.
func TestJump(t *testing.T) {
	const block, start = 600, 1_000_000_200
	limit := symptom.JumpLimit{Least: 8, Steep: 0.02, Skew: 20}
	after := func(i int, x float64) float64 { // a step after four days
		if i < 576 {
			return 0
		}
		return x
	}
	spell := func(i int, x float64) float64 { // two hours of it, two days before
		if i < 288 || i >= 300 {
			return 0
		}
		return x
	}
	rough := rand.New(rand.NewPCG(5, 5))
	rows := []struct {
		name  string
		gap   func(i int) float64
		level func(i int) float64
		hole  int     // blocks without data before the step
		first int     // blocks after the step in which it must be confirmed; 0: never
		about float64 // mm the size may be off; 0: 2
	}{
		{name: "10 mm", gap: func(i int) float64 { return after(i, 10) }, first: 18},
		{name: "-10 mm", gap: func(i int) float64 { return after(i, -10) }, first: 18},
		{name: "5 mm", gap: func(i int) float64 { return after(i, 5) }},
		{name: "another liquid", gap: func(i int) float64 { return after(i, -20*math.Expm1(-float64(i-576)/12)) }},
		{name: "foam for half an hour", gap: func(i int) float64 { return after(i, 25) - after(i-3, 25) }},
		{name: "foam for two hours", gap: func(i int) float64 { return after(i, 25) - after(i-12, 25) }},
		{name: "back after three days", gap: func(i int) float64 { return 10 - after(i, 10) }},
		{name: "as far as what came back", gap: func(i int) float64 { return spell(i, 14) + after(i, 14) }},
		{name: "farther than what came back", gap: func(i int) float64 { return spell(i, 10) + after(i, 20) }, first: 18},
		{name: "as far as it swings", gap: func(i int) float64 { return after(i, 22) + 4*rough.NormFloat64() }},
		{name: "farther than it swings", gap: func(i int) float64 { return after(i, 60) + 4*rough.NormFloat64() }, first: 18, about: 6},
		{name: "across a hole", gap: func(i int) float64 { return after(i, 15) }, hole: 6},
		{name: "nothing known before", gap: func(i int) float64 { return after(i, 15) }, hole: 566},
		{name: "with the level", gap: func(i int) float64 { return after(i, 8) }, level: func(i int) float64 { return after(i, 400) }},
		{name: "with the speed", gap: func(i int) float64 { return after(i, 10) }, level: func(i int) float64 { return after(i, 120*float64(i-576)) }},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(7, 7))
			var j symptom.Jump
			first := 0
			for i := range 576 + 200 {
				level := 500.0
				if r.level != nil {
					level += r.level(i)
				}
				gap := r.gap(i) + rng.NormFloat64()
				if i >= 576-r.hole && i < 576 {
					continue
				}
				j.Add(start+int64(i)*block, gap, level, limit)
				if j.Confirmed() && first == 0 {
					first = i - 576 + 1
				}
				if r.first == 0 && i > 576+2 && j.Confirmed() {
					t.Fatalf("confirmed in block %d by a jump of %.1f mm from %.1f", i-576, j.Size, j.From)
				}
			}
			if r.first != 0 && (first < r.first || first > r.first+1) {
				t.Errorf("confirmed in block %d, want %d", first, r.first)
			}
			if r.first != 0 && math.Abs(j.Size-r.gap(600)) > cmp.Or(r.about, 2) {
				t.Errorf("a jump of %.1f mm, want about %.0f", j.Size, r.gap(600))
			}
		})
	}
}
