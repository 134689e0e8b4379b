package drawing

import (
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
)

// drawMark draws one indication in its lane.
func (p *Plan) drawMark(c Canvas, k *mark) {
	x, y := p.laneX[k.source], p.y(k.at)
	if k.source == pointLane {
		p.drawPoint(c, k, x, y)
		return
	}
	ink, band := FloatMark+2*Ink(k.source), FloatBand+2*Ink(k.source)
	title := k.name + ": " + k.value
	switch k.bound {
	case level.Within:
		c.Rect(Position{x - 4, p.y(k.at + k.u)}, 8, 2*float64(k.u)*p.scale, band, title)
		c.Polygon(marker(k.source, Position{x, y}), ink, title)
	case level.AboveUpperTap:
		c.Polygon([]Position{{x - 6, y}, {x + 6, y}, {x, y - 11}}, ink, title)
	case level.BelowLowerTap:
		c.Polygon([]Position{{x - 6, y}, {x + 6, y}, {x, y + 11}}, ink, title)
	default:
		low, high := p.sees(k.source)
		c.Rect(Position{x - 4, p.y(high)}, 8, p.y(low)-p.y(high), Unseen, title)
		return
	}
	if k.wrong {
		c.Rect(Position{x - 9, y - 9}, 18, 18, Wrong, "")
	}
}

// marker returns the shape of an instrument: a diamond for the float, a square
// for the transmitter, a triangle for a second one.
func marker(from source, at Position) []Position {
	const r = 5.5
	switch from {
	case floatLane:
		return []Position{{at.X, at.Y - r - 1}, {at.X + r + 1, at.Y}, {at.X, at.Y + r + 1}, {at.X - r - 1, at.Y}}
	case transLane:
		return []Position{{at.X - r + 1, at.Y - r + 1}, {at.X + r - 1, at.Y - r + 1}, {at.X + r - 1, at.Y + r - 1}, {at.X - r + 1, at.Y + r - 1}}
	}
	return []Position{{at.X, at.Y - r}, {at.X + r, at.Y + r - 1}, {at.X - r, at.Y + r - 1}}
}

// drawPoint draws a point switch at its trip elevation: filled when wet,
// hollow when dry, with the bar of its differential below.
func (p *Plan) drawPoint(c Canvas, k *mark, x, y float64) {
	ink := PointUnknown
	switch k.state {
	case gauge.Wet:
		ink = PointWet
	case gauge.Dry:
		ink = PointDry
	}
	c.Line(Position{x + 4, y}, Position{x + 4, p.y(k.at - k.span)}, PointSpan)
	c.Polygon([]Position{{x - 8, y}, {x + 4, y - 6}, {x + 4, y + 6}}, ink, k.name+": "+k.value)
	if k.wrong {
		c.Rect(Position{x - 11, y - 9}, 19, 18, Wrong, "")
	}
}

// drawLabel writes a label with a leader to its mark.
func (p *Plan) drawLabel(c Canvas, l label) {
	k := &p.marks[l.mark]
	if k.bound != level.None {
		from := Position{p.laneX[k.source] + 9, p.y(k.at)}
		knee := Position{p.labelX - 1.4*p.size.Small, l.centre}
		c.Line(from, Position{p.stripX + p.size.Small*0.8, from.Y}, Leader)
		c.Line(Position{p.stripX + p.size.Small*0.8, from.Y}, knee, Leader)
		c.Line(knee, Position{p.labelX - 0.6*p.size.Small, l.centre}, Leader)
	}
	ink := Value
	if k.wrong {
		ink = Warn
	}
	c.Text(Position{p.labelX, l.centre - p.size.Row*0.12}, k.value, ink, Start)
	c.Text(Position{p.labelX, l.centre + p.size.Row*0.88}, k.name, Name, Start)
}
