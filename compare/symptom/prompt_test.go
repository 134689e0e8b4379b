package symptom

import "testing"

// Three wild readings in a row, which the median of three lets through, are
// too few for an alert after four minutes; a gap that stays is not, and one
// that changes its sign starts afresh.
func TestPromptCountsMinutesInARow(t *testing.T) {
	var g Gap
	at := int64(600_000)
	add := func(gaps ...float64) {
		for _, x := range gaps {
			at += 60
			g.Add(Tolerance{UD: 5}, at, x, 0, 0)
		}
	}
	add(0, 1, 0, 60, 60, 60, 0)
	if g.Prompt.Minutes > 3 {
		t.Errorf("three wild readings count %d minutes", g.Prompt.Minutes)
	}
	add(0, 0)
	if g.Prompt != (Prompt{}) {
		t.Errorf("left of it: %+v", g.Prompt)
	}
	add(14, 14, 14, 14, 14, 14)
	if p := g.Prompt; p.Minutes != 5 || p.Sign != 1 || p.Since != at-240 {
		t.Errorf("a gap of 14 mm for six minutes where 5 are allowed: %+v", p)
	}
	add(-30, -30, -30, -30)
	if p := g.Prompt; p.Minutes != 2 || p.Sign != -1 {
		t.Errorf("after it changed its sign: %+v", p)
	}
	add(11, 11, 11, 11)
	if p := g.Prompt; p.Minutes != 0 {
		t.Errorf("11 mm are within the margin: %+v", p)
	}
	add(600, 600, 600, 600, 600)
	if g.Plain < 3 || g.Prompt.Minutes < 3 {
		t.Fatalf("a gap of 600 mm counts %d and %d minutes", g.Plain, g.Prompt.Minutes)
	}
	at += 3600 // both levels were beyond the taps
	add(0)
	if g.Plain != 0 || g.Prompt.Minutes != 0 || g.Gross != 0 {
		t.Errorf("after an hour without a gap %d and %d minutes in a row are left", g.Plain, g.Prompt.Minutes)
	}
}
