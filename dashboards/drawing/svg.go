package drawing

import (
	"html"
	"strconv"
	"strings"
)

// SVG is a Canvas that writes an inline SVG element. Colours, widths and
// fonts are those of the style sheet that has the classes "ink-...": the
// element itself carries no style, so a strict content policy holds.
type SVG struct {
	// Prefix makes the names inside the element unique on a page.
	Prefix string
	// Class is added to the element, for example "stale".
	Class string

	b strings.Builder
}

// String returns the element.
func (s *SVG) String() string { return s.b.String() }

// Begin opens the element.
func (s *SVG) Begin(width, height float64, title, description string) {
	s.b.Grow(16 << 10)
	s.b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" role="img" class="drawing`)
	if s.Class != "" {
		s.b.WriteByte(' ')
		s.b.WriteString(html.EscapeString(s.Class))
	}
	s.b.WriteString(`" viewBox="0 0`)
	s.number(" ", width)
	s.number(" ", height)
	s.b.WriteString(`"`)
	s.attribute("width", width)
	s.attribute("height", height)
	s.b.WriteString(` aria-labelledby="` + s.Prefix + `-t ` + s.Prefix + `-d"><title id="` + s.Prefix + `-t">` + html.EscapeString(title) +
		`</title><desc id="` + s.Prefix + `-d">` + html.EscapeString(description) + `</desc><defs>`)
	s.pattern(Disputed, `<rect width="6" height="6" class="pat-ground"/><path d="M0 1.5H6M0 4.5H6" class="pat-stripe"/>`)
	s.pattern(Unseen, `<path d="M-1 1L1 -1M0 6L6 0M5 7L7 5" class="pat-hatch"/>`)
	s.pattern(ProvenOld, `<circle cx="3" cy="3" r="1.3" class="pat-dot"/>`)
	s.b.WriteString(`</defs>`)
}

func (s *SVG) pattern(i Ink, inner string) {
	s.b.WriteString(`<pattern id="` + s.Prefix + `-` + i.String() + `" width="6" height="6" patternUnits="userSpaceOnUse">` + inner + `</pattern>`)
}

// Line draws a line.
func (s *SVG) Line(from, to Position, ink Ink) {
	s.b.WriteString(`<line`)
	s.attribute("x1", from.X)
	s.attribute("y1", from.Y)
	s.attribute("x2", to.X)
	s.attribute("y2", to.Y)
	s.close(ink, "line", "")
}

// Rect draws a rectangle.
func (s *SVG) Rect(at Position, width, height float64, ink Ink, title string) {
	s.b.WriteString(`<rect`)
	s.attribute("x", at.X)
	s.attribute("y", at.Y)
	s.attribute("width", max(0, width))
	s.attribute("height", max(0, height))
	if ink == Body {
		s.attribute("rx", min(width, height)/3)
	}
	s.close(ink, "rect", title)
}

// Polygon draws a closed polygon.
func (s *SVG) Polygon(corners []Position, ink Ink, title string) {
	s.b.WriteString(`<polygon points="`)
	for i, p := range corners {
		if i > 0 {
			s.b.WriteByte(' ')
		}
		s.number("", p.X)
		s.number(",", p.Y)
	}
	s.b.WriteByte('"')
	s.close(ink, "polygon", title)
}

// Text writes a text.
func (s *SVG) Text(at Position, text string, ink Ink, align Align) {
	s.b.WriteString(`<text`)
	s.attribute("x", at.X)
	s.attribute("y", at.Y)
	if align != Start {
		s.b.WriteString(` text-anchor="` + [...]string{"start", "middle", "end"}[align] + `"`)
	}
	s.b.WriteString(` class="ink-` + ink.String() + `">` + html.EscapeString(text) + `</text>`)
}

// End closes the element.
func (s *SVG) End() { s.b.WriteString(`</svg>`) }

func (s *SVG) close(ink Ink, element, title string) {
	s.b.WriteString(` class="ink-` + ink.String() + `"`)
	switch ink {
	case Disputed, Unseen, ProvenOld:
		s.b.WriteString(` fill="url(#` + s.Prefix + `-` + ink.String() + `)"`)
	}
	if title == "" {
		s.b.WriteString(`/>`)
		return
	}
	s.b.WriteString(`><title>` + html.EscapeString(title) + `</title></` + element + `>`)
}

func (s *SVG) attribute(name string, v float64) {
	s.b.WriteString(` ` + name + `="`)
	s.number("", v)
	s.b.WriteByte('"')
}

func (s *SVG) number(before string, v float64) {
	s.b.WriteString(before)
	var buf [24]byte
	text := strconv.AppendFloat(buf[:0], v, 'f', 1, 64)
	s.b.WriteString(strings.TrimSuffix(string(text), ".0"))
}
