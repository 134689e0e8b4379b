package drawing

import "strings"

// cellWidth and cellHeight are the pixels a character of a terminal counts as.
const (
	cellWidth  = 7
	cellHeight = 16
)

// Text is a Canvas of characters, for a terminal. A character is about twice
// as high as wide, so the drawing keeps its proportions as far as characters
// can.
type Text struct {
	// ASCII draws with plain characters where the terminal has no others.
	ASCII bool

	cells       [][]rune
	description string
}

// glyphs are the characters of each ink that fills or lines, Unicode and ASCII.
var glyphs = [inks][2]rune{
	Outline: {'│', '|'}, Thin: {'│', '|'}, Grid: {'·', '.'}, Metal: {'█', '#'}, Void: {' ', ' '}, Liquid: {'▒', '~'}, Disputed: {'░', '?'},
	Surface: {'─', '-'}, BuiltFor: {'╌', '-'}, Body: {'▓', 'H'}, Unseen: {'╱', '/'},
	FloatMark: {'◆', '*'}, FloatBand: {'┃', '|'}, TransMark: {'■', 'o'}, TransBand: {'┃', '|'}, SecondMark: {'▲', '^'}, SecondBand: {'┃', '|'},
	PointWet: {'◀', '<'}, PointDry: {'◁', '('}, PointUnknown: {'?', '?'}, PointSpan: {' ', ' '}, Leader: {'─', '-'},
	ProvenNew: {'█', '#'}, ProvenOld: {'▒', '+'}, ProvenNever: {'·', '.'}, ValveOpen: {'⋈', 'x'}, ValveShut: {'▪', 'X'},
	Allowed: {'░', '.'}, Beyond: {'█', '#'}, GapLine: {'▓', '='},
}

func (t *Text) glyph(ink Ink) rune {
	if t.ASCII {
		return glyphs[ink][1]
	}
	return glyphs[ink][0]
}

// Begin clears the canvas.
func (t *Text) Begin(width, height float64, _, description string) {
	t.description = description
	t.cells = make([][]rune, int(height/cellHeight)+1)
	for i := range t.cells {
		t.cells[i] = []rune(strings.Repeat(" ", int(width/cellWidth)+1))
	}
}

// End does nothing.
func (t *Text) End() {}

// String returns the picture without trailing space.
func (t *Text) String() string {
	var b strings.Builder
	for _, row := range t.cells {
		b.WriteString(strings.TrimRight(string(row), " "))
		b.WriteByte('\n')
	}
	return strings.TrimRight(b.String(), "\n") + "\n"
}

// Description returns the same in words.
func (t *Text) Description() string { return t.description }

func (t *Text) set(column, row int, r rune) {
	if r != 0 && row >= 0 && row < len(t.cells) && column >= 0 && column < len(t.cells[row]) {
		t.cells[row][column] = r
	}
}

func cell(p Position) (column, row int) { return int(p.X/cellWidth + 0.5), int(p.Y / cellHeight) }

// Line draws level and upright lines; of a slanted one only its ends' columns
// are joined, at the height of its end.
func (t *Text) Line(from, to Position, ink Ink) {
	x1, y1 := cell(from)
	x2, y2 := cell(to)
	if x1 == x2 {
		if max(from.Y, to.Y)-min(from.Y, to.Y) < cellHeight {
			return // less than a character
		}
		for y := min(y1, y2); y <= max(y1, y2); y++ {
			t.set(x1, y, t.glyph(ink))
		}
		return
	}
	level := t.glyph(ink)
	if ink == Outline || ink == Thin {
		level = t.glyph(Leader)
	}
	for x := min(x1, x2); x < max(x1, x2); x++ {
		t.set(x, y2, level)
	}
}

// Rect fills a rectangle; what is less than a character is drawn as one.
func (t *Text) Rect(at Position, width, height float64, ink Ink, _ string) {
	if ink == Wrong {
		column, row := cell(Position{at.X + width/2, at.Y + height/2})
		t.set(column-1, row, '[')
		t.set(column+1, row, ']')
		return
	}
	if height <= 0 || width <= 0 {
		return
	}
	x1, y1 := cell(at)
	x2, y2 := cell(Position{at.X + width, at.Y + height})
	for y := y1; y <= max(y1, y2-1); y++ {
		for x := x1; x <= max(x1, x2-1); x++ {
			t.set(x, y, t.glyph(ink))
		}
	}
}

// Polygon draws the sign of its ink in its middle.
func (t *Text) Polygon(corners []Position, ink Ink, _ string) {
	var sum Position
	for _, c := range corners {
		sum.X += c.X / float64(len(corners))
		sum.Y += c.Y / float64(len(corners))
	}
	column, row := cell(sum)
	t.set(column, row, t.glyph(ink))
}

// Text writes a text.
func (t *Text) Text(at Position, s string, ink Ink, align Align) {
	letters := []rune(s)
	column, row := cell(at)
	column -= len(letters) * int(align) / 2
	if ink == Value || ink == Warn {
		t.set(column-1, row, ' ') // off its leader
	}
	for i, r := range letters {
		if t.ASCII {
			r = plain(r)
		}
		t.set(column+i, row, r)
	}
}

// plain returns a letter every terminal has.
func plain(r rune) rune {
	switch r {
	case '−', '–':
		return '-'
	case '\u00a0':
		return ' '
	case '·':
		return ','
	case '×':
		return 'x'
	case '±':
		return '~'
	}
	if r > 126 {
		return '?'
	}
	return r
}
