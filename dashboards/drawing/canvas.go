// Package drawing draws a gauge to scale: the chamber with its taps, the
// float at the elevation its magnet implies, the liquid as far as the
// instruments agree about it, and what each instrument says beside it.
//
// The same plan is drawn on any Canvas: SVG for a page, text for a terminal,
// a sheet of a record. Vertical and horizontal scale are the same unless the
// bore would be too thin to see; then the factor is written on the drawing.
package drawing

// Canvas is what a drawing needs of the thing it is drawn on. The origin is
// the upper left corner, y points down, and lengths are those of the Plan.
type Canvas interface {
	// Begin opens a picture with its name and its description in words.
	Begin(width, height float64, title, description string)
	Line(from, to Position, ink Ink)
	// Rect fills or outlines a rectangle as the ink says. title explains it to
	// a pointer; it may be empty.
	Rect(at Position, width, height float64, ink Ink, title string)
	Polygon(corners []Position, ink Ink, title string)
	Text(at Position, s string, ink Ink, align Align)
	End()
}

// Position is a point of the picture.
type Position struct{ X, Y float64 }

// Align says which end of a text stands at its position.
type Align uint8

// Alignments.
const (
	Start Align = iota
	Middle
	End
)

// Ink says what is drawn; how it looks is the canvas's affair.
type Ink uint8

// Inks.
const (
	Outline      Ink = iota // chamber, taps
	Thin                    // axis, ticks, rails
	Grid                    // elevation lines of the taps
	Metal                   // cut walls, flanges
	Void                    // inside of the chamber above the liquid
	Liquid                  // agreed by the instruments
	Disputed                // between the lowest and the highest indication
	Surface                 // waterline on the float
	BuiltFor                // waterline the float was made for
	Body                    // float
	Unseen                  // cannot be seen by the instrument of this lane
	FloatMark               // marker of the float
	FloatBand               // its expanded uncertainty
	TransMark               // transmitter
	TransBand               //
	SecondMark              // second transmitter
	SecondBand              //
	PointWet                // point switch that is wet
	PointDry                // point switch that is dry
	PointUnknown            // point switch nobody has read
	PointSpan               // its differential
	Wrong                   // what disagrees
	Leader                  // from a marker to its label
	ProvenNew               // proven lately
	ProvenOld               // proven some time ago
	ProvenNever             // older or never
	ValveOpen               // valve whose state is not known or open
	ValveShut               // valve that is shut
	Allowed                 // gap bar: the budget
	Beyond                  // gap bar: the part beyond the budget
	GapLine                 // gap bar: the part within the budget
	Value                   // text: a reading
	Name                    // text: tag and kind
	Scale                   // text: axis numbers
	Warn                    // text: what disagrees or is stale
	inks
)

var inkNames = [inks]string{
	"outline", "thin", "grid", "metal", "void", "liquid", "disputed", "surface", "builtfor", "body", "unseen",
	"float", "floatband", "trans", "transband", "second", "secondband", "wet", "dry", "unknown", "span", "wrong", "leader",
	"provennew", "provenold", "provennever", "valve", "valveshut", "allowed", "beyond", "gap",
	"value", "name", "scale", "warn",
}

func (i Ink) String() string { return inkNames[i] }
