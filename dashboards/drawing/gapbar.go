package drawing

import (
	"fmt"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/units"
)

// GapBar draws one gap against its budget, magnified: zero marked, the allowed
// part shaded, the gap as a bar that changes where it leaves it. At the scale
// of the chamber these are only a few pixels.
func GapBar(c Canvas, g gauge.Gap, pair gauge.Pair, set units.Set, width float64) {
	const height, y, bar, margin = 46.0, 8.0, 16.0, 34.0
	words := GapWords(g, set)
	c.Begin(width, height, "gap "+pair.String(), words)
	defer c.End()
	v, budget := float64(g.Value), max(float64(g.Budget), 1e-6)
	low, high := min(v, -budget*1.4), max(v, budget*1.4)
	at := func(v float64) float64 { return margin + (v-low)/(high-low)*(width-2*margin) }
	c.Rect(Position{at(-budget), y - 4}, at(budget)-at(-budget), bar+8, Allowed, "allowed ± "+set.LengthFine(g.Budget))
	if g.OK {
		inside := min(max(v, -budget), budget)
		c.Rect(Position{min(at(0), at(inside)), y}, distance(at(0), at(inside)), bar, GapLine, words)
		if inside != v {
			c.Rect(Position{min(at(inside), at(v)), y}, distance(at(inside), at(v)), bar, Beyond, words)
			c.Text(Position{at(v), height - 2}, set.LengthNumber(g.Value), Scale, Middle)
		}
	}
	c.Line(Position{at(0), y - 6}, Position{at(0), y + bar + 6}, Outline)
	c.Text(Position{at(-budget), height - 2}, set.LengthNumber(-g.Budget), Scale, pickAlign(at(0)-at(-budget) < 30, End, Middle))
	c.Text(Position{at(budget), height - 2}, set.LengthNumber(g.Budget), Scale, pickAlign(at(0)-at(-budget) < 30, Start, Middle))
	if at(0)-at(-budget) >= 30 {
		c.Text(Position{at(0), height - 2}, set.LengthNumber(quantity.Length(0)), Scale, Middle)
	}
}

func distance(a, b float64) float64 { return max(a-b, b-a) }

func pickAlign(first bool, a, b Align) Align {
	if first {
		return a
	}
	return b
}

// GapWords says a gap and its budget in words.
func GapWords(g gauge.Gap, set units.Set) string {
	if !g.OK {
		return "cannot be compared: " + g.Reason.String()
	}
	return fmt.Sprintf("%s, allowed ± %s, %s × the budget", set.Signed(g.Value), set.LengthFine(g.Budget), units.Fixed(g.Ratio(), 1))
}
