package drawing

import (
	"fmt"
	"math"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/units"
)

// GapBar draws one gap against its budget, magnified: zero in the middle, the
// allowed part shaded, the gap as a bar that changes where it leaves it. At
// the scale of the chamber these are only a few pixels.
func GapBar(c Canvas, g gauge.Gap, pair gauge.Pair, set units.Set, width float64) {
	const height, y, bar = 44.0, 8.0, 16.0
	words := GapWords(g, set)
	c.Begin(width, height, "gap "+pair.String(), words)
	defer c.End()
	full := max(math.Abs(float64(g.Value))*1.15, float64(g.Budget)*2, 1e-6)
	at := func(v float64) float64 { return width/2 + v/full*(width/2-8) }
	budget := float64(g.Budget)
	c.Rect(Position{at(-budget), y - 4}, at(budget)-at(-budget), bar+8, Allowed, "allowed ± "+set.LengthFine(g.Budget))
	if g.OK {
		v := float64(g.Value)
		inside := min(max(v, -budget), budget)
		c.Rect(Position{min(at(0), at(inside)), y}, math.Abs(at(inside)-at(0)), bar, GapLine, words)
		if inside != v {
			c.Rect(Position{min(at(inside), at(v)), y}, math.Abs(at(v)-at(inside)), bar, Beyond, words)
		}
	}
	c.Line(Position{at(0), y - 6}, Position{at(0), y + bar + 6}, Outline)
	for _, v := range []float64{-budget, 0, budget} {
		c.Text(Position{at(v), height - 2}, set.LengthNumber(quantity.Length(v)), Scale, Middle)
	}
}

// GapWords says a gap and its budget in words.
func GapWords(g gauge.Gap, set units.Set) string {
	if !g.OK {
		return "cannot be compared: " + g.Reason.String()
	}
	return fmt.Sprintf("%s, allowed ± %s, %s × the budget", set.Signed(g.Value), set.LengthFine(g.Budget), units.Fixed(g.Ratio(), 1))
}
