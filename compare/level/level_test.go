package level_test

import (
	"math"
	"strings"
	"testing"

	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

func at(value quantity.Length, parts map[level.Input]float64) *level.Level {
	l := &level.Level{Value: value, Bound: level.Within}
	for i, v := range parts {
		l.Parts[i] = v
	}
	return l
}

// Three parts of 3, 4 and 12 mm combine to 13.
func TestU(t *testing.T) {
	l := at(0.5, map[level.Input]float64{level.LiquidDensity: -3e-3, level.FloatMass: 4e-3, level.Follower: 12e-3})
	vectors.Within(t, "u, mm", l.U().Millimetres(), 13, 1e-12)
}

func TestDifference(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b map[level.Input]float64
		u    float64 // mm
	}{
		{"independent", map[level.Input]float64{level.Follower: 3e-3}, map[level.Input]float64{level.TransmitterDevice: 4e-3}, 5},
		{"shared alike: cancels", map[level.Input]float64{level.TapElevation: 9e-3, level.Follower: 3e-3}, map[level.Input]float64{level.TapElevation: 9e-3, level.TransmitterDevice: 4e-3}, 5},
		{"shared in part", map[level.Input]float64{level.LiquidDensity: -2e-3}, map[level.Input]float64{level.LiquidDensity: -5e-3, level.TransmitterDevice: 4e-3}, 5},
		{"shared with opposite sign: adds up", map[level.Input]float64{level.LiquidDensity: -2e-3}, map[level.Input]float64{level.LiquidDensity: 1e-3, level.TransmitterDevice: 4e-3}, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			gap, u, ok := level.Difference(at(0.512, c.a), at(0.5, c.b))
			if !ok {
				t.Fatal("not defined")
			}
			vectors.Within(t, "gap, mm", gap.Millimetres(), 12, 1e-12)
			vectors.Within(t, "u, mm", u.Millimetres(), c.u, 1e-12)
		})
	}
	for _, bound := range []level.Bound{level.None, level.BelowLowerTap, level.AboveUpperTap} {
		if gap, u, ok := level.Difference(at(0.5, nil), &level.Level{Bound: bound}); ok || gap != 0 || u != 0 {
			t.Errorf("with a level %v: %v, %v, %v", bound, gap, u, ok)
		}
	}
}

// Every value of the enumerations has a name of its own.
func TestNames(t *testing.T) {
	seen := map[string]bool{}
	note := func(s string) {
		if strings.TrimSpace(s) == "" || seen[s] {
			t.Errorf("name %q is empty or used twice", s)
		}
		seen[s] = true
	}
	for i := range level.Inputs {
		note(i.String())
	}
	for b := level.None; b <= level.AboveUpperTap; b++ {
		note(b.String())
	}
	for b := level.ByBuoyancy; b <= level.AsReported; b++ {
		note(b.String())
	}
	if math.IsNaN(float64((&level.Level{}).U())) {
		t.Error("u of nothing is no number")
	}
}
