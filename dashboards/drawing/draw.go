package drawing

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/coverage"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/units"
)

// Draw lays the scene out and draws it.
func Draw(c Canvas, s Scene, size Size) {
	NewPlan(s, size).Draw(c)
}

// Draw draws the plan.
func (p *Plan) Draw(c Canvas) {
	c.Begin(p.Width, p.Height, p.scene.Title(), p.scene.Description())
	p.drawAxis(c)
	p.drawVessel(c)
	p.drawChamber(c)
	p.drawLiquid(c)
	p.drawFloat(c)
	p.drawRails(c)
	p.drawProven(c)
	for i := range p.marks {
		p.drawMark(c, &p.marks[i])
	}
	for _, l := range p.labels {
		p.drawLabel(c, l)
	}
	p.drawFoot(c)
	c.End()
}

// drawAxis draws elevations above the lower tap and, where there is room and
// it is known, plant elevations.
func (p *Plan) drawAxis(c Canvas) {
	up, step := p.scene.Sheet.Chamber.CentreToCentre, p.axisStep()
	c.Text(Position{p.axisX - 4, p.size.Row}, p.scene.Units.LengthSymbol(), Scale, End)
	if p.elX > 0 {
		c.Text(Position{p.elX, p.size.Row}, "EL", Scale, End)
	}
	c.Line(Position{p.axisX, p.y(p.top)}, Position{p.axisX, p.y(p.bottom)}, Thin)
	tick := func(z quantity.Length) {
		y := p.y(z)
		c.Line(Position{p.axisX - 3, y}, Position{p.axisX, y}, Thin)
		c.Text(Position{p.axisX - 5, y + p.size.Row/4}, p.scene.Units.LengthNumber(z), Scale, End)
		if p.elX > 0 {
			c.Text(Position{p.elX, y + p.size.Row/4}, p.elevation(z), Scale, End)
		}
	}
	clear := quantity.Length(1.1 * p.size.Row / p.scale)
	for z := quantity.Length(math.Ceil(float64(p.bottom/step))) * step; z <= p.top; z += step {
		if abs(z) > clear && abs(z-up) > clear {
			tick(z)
		}
	}
	tick(0)
	tick(up)
}

// drawVessel draws the wall of the vessel, the connections to the chamber and
// how far the liquid in the vessel reaches by the hydrostatic balance.
func (p *Plan) drawVessel(c Canvas) {
	up := p.scene.Sheet.Chamber.CentreToCentre
	p.drawVesselLiquid(c)
	c.Line(Position{p.wallX, p.y(p.top)}, Position{p.wallX, p.y(p.bottom)}, Outline)
	if p.wallX-p.vesselX >= 6.5*p.size.Small {
		c.Text(Position{(p.vesselX + p.wallX) / 2, p.y(p.top) + p.size.Row*0.9}, "vessel", Scale, Middle)
	}
	for _, z := range []quantity.Length{0, up} {
		p.drawTap(c, z)
	}
}

// drawVesselLiquid fills the vessel as far as everybody agrees, and stripes it
// as far as anybody says.
func (p *Plan) drawVesselLiquid(c Canvas) {
	inside := p.scene.Result.Measurement.InVessel
	low, high, ok := extent(p.marks, p.scene.Sheet.Chamber.CentreToCentre)
	if p.scene.Stale || !ok || !inside.OK() || p.scene.Result.Measurement.Isolated {
		return
	}
	low, high = min(low, inside.Value-2*inside.U()), max(high, inside.Value+2*inside.U())
	low, high = min(max(low, p.bottom), p.top), min(max(high, p.bottom), p.top)
	width := p.wallX - p.vesselX
	words := "level in the vessel by the hydrostatic balance " + p.scene.Units.LengthWith(inside.Value, inside.U())
	c.Rect(Position{p.vesselX, p.y(low)}, width, p.y(p.bottom)-p.y(low), Liquid, words)
	c.Rect(Position{p.vesselX, p.y(high)}, width, p.y(low)-p.y(high), Disputed, words)
}

func (p *Plan) drawTap(c Canvas, z quantity.Length) {
	half := max(3, 0.0125*p.scale*p.magnify)
	left, right, y := p.wallX, p.chamberX-p.wall, p.y(z)
	ink, state := ValveOpen, "isolation valve, state not known"
	if p.scene.Result.Measurement.Isolated {
		ink, state = ValveShut, "isolation valve, chamber isolated"
	}
	c.Line(Position{left, y - half}, Position{right, y - half}, Outline)
	c.Line(Position{left, y + half}, Position{right, y + half}, Outline)
	middle := (left + right) / 2
	p.drawValve(c, Position{middle, y}, half+3, true, ink, state)
}

// drawValve draws the two triangles of a valve.
func (p *Plan) drawValve(c Canvas, at Position, r float64, horizontal bool, ink Ink, title string) {
	a := []Position{{-r, -r * 0.8}, {-r, r * 0.8}, {r, -r * 0.8}, {r, r * 0.8}}
	for i := range a {
		if !horizontal {
			a[i].X, a[i].Y = a[i].Y, a[i].X
		}
		a[i].X += at.X
		a[i].Y += at.Y
	}
	c.Polygon(a, ink, title)
}

func (p *Plan) drawChamber(c Canvas) {
	x, top, bottom := p.chamberX, p.y(p.top), p.y(p.bottom)
	c.Rect(Position{x - p.wall, top}, 2*p.wall, bottom-top, Metal, "")
	c.Rect(Position{x - p.bore, top}, 2*p.bore, bottom-top, Void, "")
	flange := p.wall + max(3, p.wall*0.35)
	for _, y := range []float64{top - 4, bottom} {
		c.Rect(Position{x - flange, y}, 2*flange, 4, Metal, "")
	}
	c.Line(Position{x, top - 4}, Position{x, top - 8}, Outline)
	p.drawValve(c, Position{x, top - 13}, 5, false, ValveOpen, "vent")
	c.Line(Position{x, bottom + 4}, Position{x, bottom + 8}, Outline)
	p.drawValve(c, Position{x, bottom + 13}, 5, false, ValveOpen, "drain")
}

// drawLiquid fills the bore as far as the instruments agree and stripes the
// part they disagree about.
func (p *Plan) drawLiquid(c Canvas) {
	if p.scene.Stale {
		return
	}
	low, high, ok := extent(p.marks, p.scene.Sheet.Chamber.CentreToCentre)
	if !ok {
		c.Rect(Position{p.chamberX - p.bore, p.y(p.top)}, 2*p.bore, p.y(p.bottom)-p.y(p.top), Unseen, "no instrument gives a level")
		return
	}
	low, high = min(max(low, p.bottom), p.top), min(max(high, p.bottom), p.top)
	c.Rect(Position{p.chamberX - p.bore, p.y(low)}, 2*p.bore, p.y(p.bottom)-p.y(low), Liquid, "liquid, certain up to "+p.scene.Units.Length(low))
	c.Rect(Position{p.chamberX - p.bore, p.y(high)}, 2*p.bore, p.y(low)-p.y(high), Disputed, "the readings leave this part open")
}

// drawFloat draws the float at the elevation its magnet implies, the
// waterline it was built for (dashed) and the one it has now.
func (p *Plan) drawFloat(c Canvas) {
	b := p.scene.Float
	if b == nil || p.scene.Stale {
		return
	}
	f := p.scene.Sheet.Float
	half := min(float64(f.Diameter)*p.scale*p.magnify/2, p.bore-1)
	tall := float64(f.Length) * p.scale
	y := p.y(b.Bottom + f.Length)
	c.Rect(Position{p.chamberX - half, y}, 2*half, tall, Body, p.scene.floatWords())
	magnet := p.y(b.Bottom + f.MagnetAbove)
	c.Line(Position{p.chamberX - half*0.6, magnet}, Position{p.chamberX + half*0.6, magnet}, FloatMark)
	now, built := p.y(b.Bottom+b.Immersion), p.y(b.Bottom+b.BuiltFor)
	c.Line(Position{p.chamberX - half, built}, Position{p.chamberX + half, built}, BuiltFor)
	c.Line(Position{p.chamberX - half, now}, Position{p.chamberX + half, now}, Surface)
}

// drawRails draws a lane for each instrument: a rail where it can see, hatching
// where it cannot.
func (p *Plan) drawRails(c Canvas) {
	up := p.scene.Sheet.Chamber.CentreToCentre
	right := p.labelX - p.size.Small
	for _, z := range []quantity.Length{0, up} {
		c.Line(Position{p.chamberX + p.wall, p.y(z)}, Position{right, p.y(z)}, Grid)
	}
	for _, lane := range p.lanes() {
		x := p.laneX[lane]
		if lane == pointLane {
			continue
		}
		low, high := p.sees(lane)
		c.Line(Position{x, p.y(high)}, Position{x, p.y(low)}, Thin)
		if high < up {
			c.Rect(Position{x - 4, p.y(up)}, 8, p.y(high)-p.y(up), Unseen, "cannot be seen by this instrument")
		}
		if low > 0 {
			c.Rect(Position{x - 4, p.y(low)}, 8, p.y(0)-p.y(low), Unseen, "cannot be seen by this instrument")
		}
	}
}

// drawProven draws how long ago an instrument was last proven at each
// elevation: the newest proof of any instrument counts.
func (p *Plan) drawProven(c Canvas) {
	if len(p.scene.Proven) == 0 {
		return
	}
	const width = 7
	for _, proof := range newest(p.scene.Proven) {
		ink, words := ProvenNever, "never proven here"
		if !proof.At.IsZero() {
			days := p.scene.Now.Sub(proof.At).Hours() / 24
			words = fmt.Sprintf("%s proven against %s %s days ago", proof.Tag, proof.Witness, units.Fixed(days, 0))
			switch {
			case days <= 30:
				ink = ProvenNew
			case days <= 180:
				ink = ProvenOld
			}
		}
		y := p.y(proof.To)
		c.Rect(Position{p.stripX - width/2, y}, width, p.y(proof.From)-y, ink, words)
	}
}

// newest keeps the newest proof of each elevation bin; that of a switch has no
// height and is left out.
func newest(proofs []coverage.Proof) []coverage.Proof {
	var bins []coverage.Proof
	for _, proof := range proofs {
		at := slices.IndexFunc(bins, func(b coverage.Proof) bool { return b.From == proof.From && b.To == proof.To })
		switch {
		case proof.From >= proof.To:
		case at < 0:
			bins = append(bins, proof)
		case proof.At.After(bins[at].At):
			bins[at] = proof
		}
	}
	return bins
}

// drawFoot says the scale, and that nothing is fresh when nothing is.
func (p *Plan) drawFoot(c Canvas) {
	y := p.Height - p.size.Row*0.35
	text := "to scale, 1 : " + units.Significant(p.ratio(), 2)
	if p.magnify > 1 {
		text += fmt.Sprintf(", width × %.0f", p.magnify)
	}
	c.Text(Position{p.Width - 2, y}, text, Scale, End)
	note := "striped: readings leave it open"
	if p.scene.Stale {
		note = "outline: nothing fresh"
	}
	if (runes(note)+runes(text)+2)*p.size.Small < p.Width {
		c.Text(Position{2, y}, note, Scale, Start)
	}
}

func abs(l quantity.Length) quantity.Length { return max(l, -l) }
