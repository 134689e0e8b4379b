package drawing

import (
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// Size is the room a drawing gets. Width and height grow when the labels need
// more. Character is the width of an average character of a reading, Small
// that of a name or an axis number, and Row the line height, in the same unit.
// Bore and Wall are the least widths of a bore and of a wall that can be seen.
type Size struct {
	Width, Height         float64
	Character, Small, Row float64
	Bore, Wall            float64
}

// Sizes of a page, in pixels, and of a terminal, whose characters count as
// cellWidth by cellHeight pixels.
var (
	Wide     = Size{Width: 560, Height: 600, Character: 9.6, Small: 7, Row: 16, Bore: 18, Wall: 2}
	Narrow   = Size{Width: 340, Height: 560, Character: 9.6, Small: 7, Row: 16, Bore: 18, Wall: 2}
	Terminal = Size{Width: 78 * cellWidth, Height: 36 * cellHeight, Character: cellWidth, Small: cellWidth, Row: cellHeight, Bore: 4 * cellWidth, Wall: cellWidth}
)

// Plan is a drawing laid out: every position decided, nothing drawn.
type Plan struct {
	Width, Height float64

	scene  Scene
	size   Size
	marks  []mark
	labels []label

	scale   float64 // picture units per metre, vertical
	magnify float64 // horizontal scale / vertical scale, 1 unless the bore is too thin
	top     quantity.Length
	bottom  quantity.Length
	yTop    float64

	elX, axisX               float64 // right edges of the plant elevations (0: none) and of the axis
	vesselX, wallX, chamberX float64 // edges of the vessel, centre of the chamber
	bore, wall               float64 // half widths in picture units
	laneX                    map[source]float64
	stripX, labelX           float64
}

// label is one text beside the lanes.
type label struct {
	mark   int
	centre float64
	height float64
}

// NewPlan lays a scene out.
func NewPlan(s Scene, size Size) *Plan {
	p := &Plan{scene: s, size: size, marks: s.marks(), magnify: 1, laneX: map[source]float64{}}
	p.vertical()
	p.horizontal()
	p.place()
	return p
}

// vertical decides scale and height: enough for the chamber and for the labels.
func (p *Plan) vertical() {
	c := p.scene.Sheet.Chamber
	spare := max(c.CentreToCentre/12, 0.04)
	p.top = c.CentreToCentre + orElse(c.AboveUpperTap, spare)
	p.bottom = -orElse(c.BelowLowerTap, spare)
	for _, k := range p.marks {
		p.top, p.bottom = max(p.top, k.at+spare/4), min(p.bottom, k.at-spare/4)
	}
	if b := p.scene.Float; b != nil && !p.scene.Stale {
		p.top = max(p.top, b.Bottom+p.scene.Sheet.Float.Length)
		p.bottom = min(p.bottom, b.Bottom)
	}
	margin := 2.6 * p.size.Row
	need := margin*2 + float64(len(p.marks))*2.5*p.size.Row
	p.Height = max(p.size.Height, need)
	p.yTop = margin
	p.scale = (p.Height - 2*margin) / float64(p.top-p.bottom)
}

// horizontal decides the columns from left to right.
func (p *Plan) horizontal() {
	c, unit := p.scene.Sheet.Chamber, p.size.Small
	inner := orElse(c.InnerDiameter, 0.0525)
	for float64(inner)*p.scale*p.magnify < p.size.Bore {
		p.magnify++
	}
	p.bore = float64(inner) * p.scale * p.magnify / 2
	p.wall = max(float64(orElse(c.OuterDiameter, inner*1.15))*p.scale*p.magnify/2, p.bore+p.size.Wall)

	wide := p.size.Width >= 480
	p.axisX = (p.widest(p.scene.Units.LengthNumber) + 1) * unit
	if wide && c.LowerTapEL != 0 {
		p.elX = (p.widest(p.elevation) + 0.5) * unit
		p.axisX += p.elX + unit
	}
	vessel := pick(wide, 7*unit, 4*unit)
	p.vesselX = p.axisX + unit
	p.wallX = p.vesselX + vessel
	p.chamberX = p.wallX + pick(wide, 5*unit, 3*unit) + p.wall
	x := p.chamberX + p.wall + pick(wide, 4*unit, 2.6*unit)
	for _, lane := range p.lanes() {
		p.laneX[lane] = x
		x += pick(wide, 3.6*unit, 2.8*unit)
	}
	p.stripX = x
	p.labelX = p.stripX + pick(wide, 5*unit, 3.4*unit)
	p.Width = max(p.size.Width, p.labelX+unit)
	for _, k := range p.marks {
		p.Width = max(p.Width, p.labelX+(runes(k.value)+0.5)*p.size.Character, p.labelX+(runes(k.name)+0.5)*unit)
	}
}

// widest returns the characters of the longest number on the axis.
func (p *Plan) widest(write func(quantity.Length) string) float64 {
	return max(runes(write(p.top)), runes(write(p.bottom)), 2)
}

// elevation writes a length above the lower tap as a plant elevation.
func (p *Plan) elevation(z quantity.Length) string {
	return p.scene.Units.Elevation(p.scene.Sheet.Chamber.LowerTapEL + z)
}

// lanes lists the lanes this gauge needs, left to right.
func (p *Plan) lanes() []source {
	var seen [pointLane + 1]bool
	for _, k := range p.marks {
		seen[k.source] = true
	}
	var lanes []source
	for lane := floatLane; lane <= pointLane; lane++ {
		if seen[lane] {
			lanes = append(lanes, lane)
		}
	}
	return lanes
}

// place puts the labels beside their marks. Marks ascend, labels descend.
func (p *Plan) place() {
	n := len(p.marks)
	anchors, heights := make([]float64, n), make([]float64, n)
	for i := range p.marks {
		from := n - 1 - i
		anchors[i], heights[i] = p.y(p.marks[from].at), 2.5*p.size.Row
	}
	for i, centre := range spread(anchors, heights, p.size.Row, p.Height-p.size.Row) {
		p.labels = append(p.labels, label{mark: n - 1 - i, centre: centre, height: heights[i]})
	}
}

// y turns an elevation into a position.
func (p *Plan) y(z quantity.Length) float64 { return p.yTop + float64(p.top-z)*p.scale }

// travel returns the surfaces between which the float can swim freely.
func (p *Plan) travel() (low, high quantity.Length) {
	c := p.scene.Sheet.Chamber
	low, high = 0, c.CentreToCentre
	if b := p.scene.Float; b != nil && c.BelowLowerTap > 0 {
		low = max(low, -c.BelowLowerTap+b.Immersion)
		if c.AboveUpperTap > 0 {
			high = min(high, c.CentreToCentre+c.AboveUpperTap-(p.scene.Sheet.Float.Length-b.Immersion))
		}
	}
	return between(low, high, c.CentreToCentre)
}

// sees returns the range in which the instrument of a lane can give a level.
func (p *Plan) sees(lane source) (low, high quantity.Length) {
	c := p.scene.Sheet.Chamber
	switch lane {
	case floatLane:
		return p.travel()
	case transLane:
		return radarRange(p.scene.Sheet.Transmitter, c)
	case secondLane:
		return radarRange(p.scene.Sheet.Second, c)
	}
	return 0, c.CentreToCentre
}

func radarRange(t *datasheet.Transmitter, c datasheet.Chamber) (low, high quantity.Length) {
	low, high = 0, c.CentreToCentre
	if t != nil && t.Principle == datasheet.Radar {
		low = max(low, t.BlindBottom-c.BelowLowerTap)
		if t.ReferencePoint > 0 {
			high = min(high, t.ReferencePoint-t.BlindTop)
		}
	}
	return between(low, high, c.CentreToCentre)
}

// between keeps a range within the taps; one that is empty stays at its lower
// end.
func between(low, high, top quantity.Length) (quantity.Length, quantity.Length) {
	low = min(max(low, 0), top)
	return low, min(max(high, low), top)
}

// ratio is the scale for a picture unit of 1/96 inch: 1 : ratio.
func (p *Plan) ratio() float64 { return 96 / 0.0254 / p.scale }

// axisStep is a round distance of elevation ticks at least two rows apart, in
// the unit of the reader.
func (p *Plan) axisStep() quantity.Length {
	unit := p.scene.Units.LengthFactor()
	least := 2.2 * p.size.Row / p.scale / unit
	decade := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 2, 5, 10} {
		if m*decade >= least {
			return quantity.Length(m * decade * unit)
		}
	}
	return quantity.Length(20 * decade * unit)
}

func orElse(v, otherwise quantity.Length) quantity.Length {
	if v > 0 {
		return v
	}
	return otherwise
}

func pick(first bool, a, b float64) float64 {
	if first {
		return a
	}
	return b
}

func runes(s string) float64 {
	n := 0
	for range s {
		n++
	}
	return float64(n)
}
