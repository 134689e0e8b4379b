package symptom

import "testing"

// A switch surely trips elsewhere where both ways agree, or the trip is against
// the way the float went: one that jumps is past the trip point when it is read.
func TestElsewhereIsNotAJump(t *testing.T) {
	point := func(up, down float32, rose, fell int64) *Point {
		p := &Point{LastAct: [2]int64{rose, fell}}
		p.Error[Rising][recentActs-1], p.Error[Falling][recentActs-1] = up, down
		return p
	}
	for _, r := range []struct {
		name string
		p    *Point
		mm   float64
		sure bool
	}{
		{"both ways", point(20, 18, 200, 300), 19, true},
		{"late both ways", point(20, -18, 200, 300), 1, false},
		{"rising late", point(20, 0, 200, 50), 20, false},
		{"rising early", point(-20, 0, 200, 50), -20, true},
		{"falling early", point(0, 20, 50, 200), 20, true},
		{"not since", point(20, 18, 50, 60), 0, false},
	} {
		if mm, sure := r.p.Elsewhere(100); mm != r.mm || sure != r.sure {
			t.Errorf("%s: %.0f mm %v, want %.0f %v", r.name, mm, sure, r.mm, r.sure)
		}
	}
}
