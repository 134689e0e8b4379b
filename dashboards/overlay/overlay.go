// Package overlay draws one quantity of two periods against the time since
// the start of each: over one another, or one under the other with the same
// scale. It makes SVG that needs no script and prints as it stands.
package overlay

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
	"time"
)

// Curve is what was recorded in one period, in the unit of the reader. Buckets
// are one step apart, the first begins at the start of the period; NaN marks
// one without a usable sample.
type Curve struct {
	Name           string // of the period
	Min, Max, Mean []float64
}

// named is the name of the period, and that nothing was recorded in it.
func (c *Curve) named() string {
	for _, v := range c.Mean {
		if !math.IsNaN(v) {
			return c.Name
		}
	}
	return c.Name + ": no samples"
}

// Plot is one quantity of two periods.
type Plot struct {
	Title, Unit string
	Step, Span  time.Duration
	A, B        Curve
	Under       bool // one under the other
}

// Size is the room of a plot in pixels.
type Size struct{ Width, Height float64 }

// Sizes of a page.
var (
	Wide   = Size{900, 190}
	Narrow = Size{340, 170}
)

const (
	left, right, top, bottom = 56, 18, 8, 26
	most                     = 4 // ticks of the upright axis, about
)

// SVG draws the plot. class goes onto the element; styles are the page's.
func (p *Plot) SVG(size Size, class string) string {
	c := canvas{size: size, plot: p}
	low, high := p.bounds()
	c.low, c.high, c.step = rounded(low, high)
	frames := 1
	if p.Under {
		frames = 2
	}
	height := size.Height * float64(frames)
	fmt.Fprintf(&c.b, `<svg class="%s" viewBox="0 0 %.0f %.0f" role="img"><title>%s</title><desc>%s</desc>`,
		html.EscapeString(class), size.Width, height, html.EscapeString(p.Title), html.EscapeString(p.words(low, high)))
	if p.Under {
		c.frame(0, p.A.named())
		c.curve(0, &p.A, "a")
		c.frame(size.Height, p.B.named())
		c.curve(size.Height, &p.B, "b")
	} else {
		c.frame(0, "")
		c.curve(0, &p.B, "b")
		c.curve(0, &p.A, "a")
	}
	c.b.WriteString(`</svg>`)
	return c.b.String()
}

// bounds are the least and greatest value of both periods, for both frames.
func (p *Plot) bounds() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, c := range []*Curve{&p.A, &p.B} {
		for i := range c.Mean {
			if !math.IsNaN(c.Mean[i]) {
				low, high = min(low, c.Min[i]), max(high, c.Max[i])
			}
		}
	}
	if low > high {
		return 0, 1
	}
	return low, high
}

func (p *Plot) words(low, high float64) string {
	return fmt.Sprintf("%s, %s against %s, from the start of each. Between %s and %s %s.", p.Title, p.A.Name, p.B.Name, number(low, 1), number(high, 1), p.Unit)
}

// rounded widens a range to round numbers and returns the distance of ticks.
func rounded(low, high float64) (from, to, step float64) {
	if high-low < 1e-9 {
		low, high = low-0.5, high+0.5
	}
	step = nice((high - low) / most)
	return math.Floor(low/step) * step, math.Ceil(high/step) * step, step
}

// nice is the round number next above x.
func nice(x float64) float64 {
	decade := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if m*decade >= x {
			return m * decade
		}
	}
	return 10 * decade
}

type canvas struct {
	b               strings.Builder
	size            Size
	plot            *Plot
	low, high, step float64
}

func (c *canvas) x(at time.Duration) float64 {
	return left + (c.size.Width-left-right)*at.Seconds()/c.plot.Span.Seconds()
}

func (c *canvas) y(v float64) float64 {
	return top + (c.size.Height-top-bottom)*(c.high-v)/(c.high-c.low)
}

// frame draws grid, axes and, where there are two frames, whose it is.
func (c *canvas) frame(down float64, name string) {
	for v := c.low; v <= c.high+c.step/2; v += c.step {
		y := down + c.y(v)
		fmt.Fprintf(&c.b, `<line class="grid" x1="%d" x2="%.1f" y1="%.1f" y2="%.1f"/><text x="%d" y="%.1f" text-anchor="end">%s</text>`,
			left, c.size.Width-right, y, y, left-6, y+4, number(v, c.step))
	}
	unit, symbol := clock(c.plot.Span, c.size.Width)
	for at := time.Duration(0); at <= c.plot.Span; at += unit {
		fmt.Fprintf(&c.b, `<line class="tick" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text x="%.1f" y="%.1f" text-anchor="middle">%s</text>`,
			c.x(at), c.x(at), down+c.size.Height-bottom, down+c.size.Height-bottom+5, c.x(at), down+c.size.Height-bottom+19, symbol(at))
	}
	if name != "" {
		fmt.Fprintf(&c.b, `<text class="name" x="%d" y="%.1f">%s</text>`, left+6, down+top+14, html.EscapeString(name))
	}
}

// curve draws the space between least and greatest value and the mean in it.
// A gap in the history is a gap in the curve.
func (c *canvas) curve(down float64, curve *Curve, class string) {
	place := func(i int, v float64) string {
		at := time.Duration(i)*c.plot.Step + c.plot.Step/2
		return strconv.FormatFloat(c.x(min(at, c.plot.Span)), 'f', 1, 64) + " " + strconv.FormatFloat(down+c.y(v), 'f', 1, 64)
	}
	for from := 0; from < len(curve.Mean); from++ {
		if math.IsNaN(curve.Mean[from]) {
			continue
		}
		to := from
		for to+1 < len(curve.Mean) && !math.IsNaN(curve.Mean[to+1]) {
			to++
		}
		var band, line []string
		for i := from; i <= to; i++ {
			band, line = append(band, place(i, curve.Max[i])), append(line, place(i, curve.Mean[i]))
		}
		for i := to; i >= from; i-- {
			band = append(band, place(i, curve.Min[i]))
		}
		fmt.Fprintf(&c.b, `<path class="band-%s" d="M%sZ"/><path class="line-%s" d="M%s"/>`, class, strings.Join(band, "L"), class, strings.Join(line, "L"))
		from = to
	}
}

// clock chooses the distance of ticks of time and how they are written.
func clock(span time.Duration, width float64) (time.Duration, func(time.Duration) string) {
	day := 24 * time.Hour
	for _, u := range []struct {
		step, unit time.Duration
		symbol     string
	}{
		{time.Minute, time.Minute, "min"}, {5 * time.Minute, time.Minute, "min"}, {15 * time.Minute, time.Minute, "min"}, {time.Hour, time.Hour, "h"},
		{4 * time.Hour, time.Hour, "h"}, {12 * time.Hour, time.Hour, "h"}, {day, day, "d"}, {7 * day, day, "d"}, {30 * day, day, "d"}, {90 * day, day, "d"},
	} {
		if float64(span/u.step)*70 <= width {
			return u.step, func(at time.Duration) string { return fmt.Sprintf("%d %s", at/u.unit, u.symbol) }
		}
	}
	return 365 * day, func(at time.Duration) string { return fmt.Sprintf("%d d", at/day) }
}

// number writes a value with the decimals a step needs.
func number(v, step float64) string {
	digits := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}
