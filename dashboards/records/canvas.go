package records

import (
	"codeberg.org/go-pdf/fpdf"

	"bridlewatch/dashboards/drawing"
)

// perPixel is a pixel of a drawing in millimetres of paper: 1/96 inch, so that
// the scale written on the drawing holds on paper.
const perPixel = 25.4 / 96

// canvas draws a chamber on a page of a PDF.
type canvas struct {
	pdf  *fpdf.Fpdf
	x, y float64 // upper left corner on the page, mm
}

var _ drawing.Canvas = (*canvas)(nil)

// shade is how an ink looks on paper, where nothing depends on colour.
type shade struct {
	line   int     // grey of the line, -1: none
	fill   int     // grey of the area, -1: none
	width  float64 // of the line, mm
	dashed bool
	hatch  rune // '-' striped, '/' hatched, 0 plain
}

var shades = map[drawing.Ink]shade{
	drawing.Outline: {0, -1, 0.35, false, 0}, drawing.Thin: {90, -1, 0.15, false, 0}, drawing.Grid: {150, -1, 0.12, true, 0},
	drawing.Metal: {60, 200, 0.2, false, 0}, drawing.Void: {-1, 255, 0, false, 0}, drawing.Liquid: {-1, 205, 0, false, 0},
	drawing.Disputed: {-1, 255, 0.2, false, '-'}, drawing.Surface: {0, -1, 0.35, false, 0}, drawing.BuiltFor: {0, -1, 0.25, true, 0},
	drawing.Body: {0, 245, 0.3, false, 0}, drawing.Unseen: {120, -1, 0.12, false, '/'}, drawing.FloatMark: {0, 0, 0.3, false, 0},
	drawing.FloatBand: {90, 225, 0.12, false, 0}, drawing.TransMark: {0, 90, 0.3, false, 0}, drawing.TransBand: {90, 225, 0.12, false, 0},
	drawing.SecondMark: {0, 255, 0.3, false, 0}, drawing.SecondBand: {90, 225, 0.12, false, 0}, drawing.PointWet: {0, 0, 0.25, false, 0},
	drawing.PointDry: {0, 255, 0.25, false, 0}, drawing.PointUnknown: {120, 200, 0.25, true, 0}, drawing.PointSpan: {0, -1, 0.5, false, 0},
	drawing.Wrong: {0, -1, 0.5, false, 0}, drawing.Leader: {140, -1, 0.12, false, 0}, drawing.ValveOpen: {0, 255, 0.25, false, 0}, drawing.ValveShut: {0, 0, 0.25, false, 0},
}

// use sets pen and brush and returns the style of the library.
func (c *canvas) use(ink drawing.Ink) (style string, s shade) {
	s, known := shades[ink]
	if !known {
		s = shade{line: 0, fill: -1, width: 0.2}
	}
	if s.fill >= 0 {
		c.pdf.SetFillColor(s.fill, s.fill, s.fill)
		style = "F"
	}
	if s.line >= 0 {
		c.pdf.SetDrawColor(s.line, s.line, s.line)
		c.pdf.SetLineWidth(s.width)
		style += "D"
	}
	dashes := []float64{}
	if s.dashed {
		dashes = []float64{1, 0.8}
	}
	c.pdf.SetDashPattern(dashes, 0)
	return style, s
}

func (c *canvas) at(p drawing.Position) (x, y float64) { return c.x + p.X*perPixel, c.y + p.Y*perPixel }

// Begin does nothing: the page is there, and the twin in HTML carries the
// description.
func (c *canvas) Begin(float64, float64, string, string) {}

// Line draws a line.
func (c *canvas) Line(from, to drawing.Position, ink drawing.Ink) {
	c.use(ink)
	x1, y1 := c.at(from)
	x2, y2 := c.at(to)
	c.pdf.Line(x1, y1, x2, y2)
}

// Rect draws a rectangle, with stripes or hatching where its ink has them.
func (c *canvas) Rect(at drawing.Position, width, height float64, ink drawing.Ink, _ string) {
	style, s := c.use(ink)
	x, y := c.at(at)
	w, h := width*perPixel, height*perPixel
	if style != "" && w > 0 && h > 0 {
		c.pdf.Rect(x, y, w, h, style)
	}
	if s.hatch != 0 && w > 0 && h > 0 {
		c.hatch(x, y, w, h, s.hatch)
	}
}

func (c *canvas) hatch(x, y, w, h float64, kind rune) {
	c.pdf.SetDrawColor(90, 90, 90)
	c.pdf.SetLineWidth(0.15)
	c.pdf.ClipRect(x, y, w, h, false)
	const step = 1.2
	if kind == '-' {
		for at := y + step/2; at < y+h; at += step {
			c.pdf.Line(x, at, x+w, at)
		}
	} else {
		for at := -h; at < w; at += step {
			c.pdf.Line(x+at, y+h, x+at+h, y)
		}
	}
	c.pdf.ClipEnd()
}

// Polygon draws a closed figure.
func (c *canvas) Polygon(corners []drawing.Position, ink drawing.Ink, _ string) {
	style, _ := c.use(ink)
	points := make([]fpdf.PointType, len(corners))
	for i, p := range corners {
		points[i].X, points[i].Y = c.at(p)
	}
	c.pdf.Polygon(points, style)
}

// Text writes one line.
func (c *canvas) Text(at drawing.Position, text string, ink drawing.Ink, align drawing.Align) {
	style, size := "", 8.0
	switch ink {
	case drawing.Value:
		size = 9
	case drawing.Warn:
		style, size = "B", 9
	}
	c.pdf.SetFont(family, style, size)
	c.pdf.SetTextColor(0, 0, 0)
	x, y := c.at(at)
	switch align {
	case drawing.Middle:
		x -= c.pdf.GetStringWidth(text) / 2
	case drawing.End:
		x -= c.pdf.GetStringWidth(text)
	}
	c.pdf.Text(x, y, text)
}

// End leaves the pen as pages expect it.
func (c *canvas) End() {
	c.pdf.SetDashPattern([]float64{}, 0)
	c.pdf.SetDrawColor(0, 0, 0)
	c.pdf.SetLineWidth(0.2)
}
