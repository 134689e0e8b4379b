package symptom

import (
	"math"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/sequential"
)

// Trip is what the point test must know of one switch, in millimetres.
type Trip struct {
	Elevation    float64
	Differential float64
	U            float64 // standard uncertainty of the trip elevation and of the reference
	ByFloat      bool    // worked by the float's magnet
}

// margin is how far beyond a switch a position contradicts it, mm.
func (t *Trip) margin() float64 {
	if m := t.Differential + 3*t.U; m > 25 {
		return m
	}
	return 25
}

// At returns the elevation the switch changes at when the level moves in d.
func (t *Trip) At(d Direction) float64 {
	if d == Rising {
		return t.Elevation + t.Differential/2
	}
	return t.Elevation - t.Differential/2
}

// Ripples reports whether a switch that feels the liquid may change to and fro
// under a float that rests at a position, mm: there the surface is at its trip
// point, and ripples that the float is too heavy to follow work the switch. A
// switch of the float has no others to follow.
func (t *Trip) Ripples(position float64) bool {
	return !t.ByFloat && math.Abs(position-t.Elevation) <= t.Differential+3*t.U
}

// Point test constants.
const (
	missSeconds  = 300  // a crossing that is not answered for so long is missed
	missNats     = 6.9  // ln(0.95/0.001): failed against healthy
	farMM        = 30.0 // an actuation farther than this from the trip point is no crossing
	baselineActs = 3    // actuations before a point's own baseline replaces the data sheet
	recentActs   = 5

	hover             = 5.0 // mm back inside the margin that end a missed crossing
	differentialLeast = 6.0 // mm between up and down for a position that stands still to show
	baseLargest       = 2.5 // standard uncertainties a baseline may be off the data sheet
	chatterChanges    = 3   // in one minute (habit of ISA-18.2 for chattering)
)

// A switch that feels the liquid is compared with a level that the density
// moves; one the magnet works is not.
var (
	pointDesign  = sequential.Design{D0: 6, D1: 14, S: 3, H: AlertNats, Blocks: 3}
	magnetDesign = sequential.Design{D0: 5, D1: 11, S: 3, H: AlertNats, Blocks: 3}
)

// design is how a switch is tested for where it trips.
func (t *Trip) design() sequential.Design {
	if t.ByFloat {
		return magnetDesign
	}
	return pointDesign
}

// Point watches one switch against the position that works it: the magnet for
// a switch worked by the float, the surface for one with an element of its
// own. Positions are millimetres above the lower tap. The zero value is ready.
type Point struct {
	State     gauge.Switch
	Known     bool  // State has been seen
	ChangedAt int64 // Unix seconds of the last change

	Position float64 // newest position, mm
	At       int64   // 0: none

	WrongSince int64   // the position says otherwise since; 0: it agrees
	Low, High  float64 // range of positions visited since LowSince
	LowSince   int64
	Where      float64 // position at the newest change, mm
	Reach      float64 // farthest it went from there since, mm

	// From here on only what a change or a missed crossing touches.
	Acts    [2]uint32 // actuations near the trip point per direction
	LastAct [2]int64
	Error   [2][recentActs]float32 // newest trip errors, position - trip elevation, mm
	Base    [2]float64             // baseline error, mm
	Based   [2]bool                // it is known: learned, and within the data sheet
	Cusum   [2]sequential.Cusum
	Wider   float64 // nats for a differential that has grown
	Width   float32 // what the newest trips of both directions made of it when all was well, mm
	Widths  uint8   // pairs of trips Width was learned from
	Slow    [2]bool // the newest trip was at a speed that shows where it was
	Fresh   int64   // Unix seconds evidence last came in

	Counted  bool  // this crossing is counted as missed
	Misses   uint8 // in a row
	LastMiss int64
	MissNats float64
	Far      uint8 // actuations far from the trip point, in a row
	LastFar  int64
	FarFrom  float64 // position at the last one, mm
	Fixed    uint8   // changes in a row between which the position never went as far as the differential
	Changes  [chatterChanges]int64
	Chatters uint16
	LastChat int64
}

// Add folds one scan: the switch's state and the position, valid when ok.
// flat says that the position has not moved for a while, so that it cannot
// have worked the switch.
func (p *Point) Add(t *Trip, at int64, state gauge.Switch, position float64, ok, flat bool) {
	if state != gauge.Unknown && p.Known && state != p.State {
		p.change(t, at, state, position, ok, flat)
	}
	if state != gauge.Unknown {
		p.State, p.Known = state, true
	}
	if ok {
		p.visit(at, position)
	}
	if state != gauge.Unknown && ok {
		p.expect(t, at, position)
	}
}

// visit widens what was visited. Positions are numbers, so plain comparisons
// serve.
func (p *Point) visit(at int64, position float64) {
	if p.LowSince == 0 {
		p.Low, p.High, p.LowSince = position, position, at
	}
	if position < p.Low {
		p.Low = position
	}
	if position > p.High {
		p.High = position
	}
	if away := math.Abs(position - p.Where); away > p.Reach {
		p.Reach = away
	}
	p.Position, p.At = position, at
}

func (p *Point) change(t *Trip, at int64, state gauge.Switch, position float64, ok, flat bool) {
	p.Changes[0], p.Changes[1], p.Changes[2] = p.Changes[1], p.Changes[2], at
	d := Rising
	if state == gauge.Dry {
		d = Falling
	}
	p.ChangedAt = at
	if !ok || p.At == 0 || at-p.At > HeldAfter {
		return
	}
	where := (position + p.Position) / 2
	e := where - t.At(d)
	p.fix(t, where)
	if p.Changes[0] != 0 && at-p.Changes[0] <= 60 && math.Abs(where-t.Elevation) > t.Differential+farMM {
		p.Chatters++
		p.LastChat = at
	}
	near := farMM + t.Differential + 3*t.U + math.Abs(position-p.Position)
	if flat {
		near = t.Differential + 3*t.U + math.Abs(position-p.Position)
	}
	if math.Abs(e) > near {
		if p.Far < 255 {
			p.Far++
		}
		p.LastFar, p.FarFrom = at, where
		return
	}
	if p.Fixed > 0 {
		return // what stands still calibrates nothing
	}
	p.good(t, at, d, e, math.Abs(position-p.Position))
}

// fix counts the changes that whatever works the switch cannot have made: up
// and down are a differential apart, and it never went so far.
func (p *Point) fix(t *Trip, where float64) {
	if p.Changes[1] != 0 && t.Differential >= differentialLeast && math.Max(p.Reach, math.Abs(where-p.Where)) < t.Differential/2 {
		p.Fixed = min(p.Fixed+1, 250)
	} else {
		p.Fixed = 0
	}
	p.Where, p.Reach = where, 0
}

// good books an actuation near the trip point: it proves the switch alive and
// calibrates it.
func (p *Point) good(t *Trip, at int64, d Direction, e, step float64) {
	p.fade(at)
	p.Far, p.Misses, p.MissNats = 0, 0, math.Max(0, p.MissNats-AlertNats/2)
	copy(p.Error[d][:], p.Error[d][1:])
	p.Error[d][recentActs-1] = float32(e)
	p.Acts[d]++
	p.LastAct[d] = at
	base, spread := p.Base[d], 0.0
	if !p.Based[d] {
		base, spread = 0, 2*t.U
	}
	if p.Acts[d] == baselineActs {
		if m := medianOf(p.Error[d][recentActs-baselineActs:]); math.Abs(m) <= baseLargest*t.U {
			p.Base[d], p.Based[d] = m, true
		}
	}
	design := t.design()
	design.D0 += spread
	design.D1 += spread
	design.S = math.Sqrt(9 + step*step/12)
	p.Cusum[d].Add(design, e-base, at)
	p.Cusum[d].Cap(2 * AlertNats)
	p.Slow[d] = step <= slowStep
	if d == Falling && p.Slow[Rising] && p.Slow[Falling] && p.Based[Rising] && p.Based[Falling] {
		p.widen(step) // once for each pair of trips
	}
}

// widerDesign is the test of the differential: two trip errors are in it.
var widerDesign = sequential.Design{D0: 4, D1: 9, S: 3.5, H: AlertNats, Blocks: 5}

// slowStep is how far the level may go from one scan to the next for a trip to
// tell its place, mm.
const slowStep = 8.0

// widthPairs is how many pairs of trips tell the usual differential.
const widthPairs = 12

// widen weighs how far the newest trip points of both directions have moved
// apart: a spring or a magnet that tires trips later both ways.
func (p *Point) widen(step float64) {
	apart := p.Error[Rising][recentActs-1] - p.Error[Falling][recentActs-1]
	if p.Widths < widthPairs {
		p.Widths++
		p.Width += (apart - p.Width) / float32(p.Widths)
		return
	}
	c, design := sequential.Cusum{Up: p.Wider}, widerDesign
	design.S = math.Hypot(widerDesign.S, step/math.Sqrt(6))
	c.Add(design, float64(apart-p.Width), 0)
	c.Cap(2 * AlertNats)
	p.Wider = c.Up
}

// Widened is how much larger the differential is by the recent trips of both
// directions than it was, mm.
func (p *Point) Widened() float64 {
	return medianOf(p.Error[Rising][:]) - medianOf(p.Error[Falling][:]) - float64(p.Width)
}

// evidenceHalf is how long evidence takes to lose half its weight while
// nothing tests the switch, s.
const evidenceHalf = 30 * 86400

// fade lets evidence grow old before new comes in.
func (p *Point) fade(at int64) {
	if p.Fresh != 0 && at > p.Fresh {
		keep := math.Exp2(-float64(at-p.Fresh) / evidenceHalf)
		p.MissNats *= keep
		p.Wider *= keep
		for d := range p.Cusum {
			p.Cusum[d].Up *= keep
			p.Cusum[d].Down *= keep
		}
	}
	p.Fresh = at
}

// expect books a crossing the switch did not answer.
func (p *Point) expect(t *Trip, at int64, position float64) {
	margin := t.margin()
	wrong := (p.State == gauge.Dry && position > t.Elevation+margin) || (p.State == gauge.Wet && position < t.Elevation-margin)
	if !wrong {
		beyond := position - t.Elevation
		if p.State == gauge.Wet {
			beyond = -beyond
		}
		if p.WrongSince != 0 && beyond < margin-hover { // a position that hovers about the margin passes it once
			p.WrongSince, p.Counted = 0, false
		}
		return
	}
	if p.WrongSince == 0 {
		p.WrongSince, p.Counted = at, p.ChangedAt == at // who changes under a position that stands has answered to something
	}
	if !p.Counted && at-p.WrongSince >= missSeconds {
		p.fade(at)
		p.Counted, p.LastMiss = true, at
		p.MissNats += math.Min(missNats, AlertNats/2+0.5)
		if p.Misses < 255 {
			p.Misses++
		}
	}
}

// Shift returns the mean recent trip error against the baseline per
// direction, with how many actuations it rests on.
func (p *Point) Shift(d Direction) (mm float64, n int) {
	n = int(min(p.Acts[d], recentActs))
	if n == 0 {
		return 0, 0
	}
	mm = medianOf(p.Error[d][recentActs-n:])
	if p.Based[d] {
		mm -= p.Base[d]
	}
	return mm, n
}

// Latest is the direction in which it last switched near its trip point.
func (p *Point) Latest() Direction {
	if p.LastAct[Falling] > p.LastAct[Rising] {
		return Falling
	}
	return Rising
}

// Elsewhere returns by how much it surely trips elsewhere than it used to, mm,
// by the newest trips since a time: both ways by as much, or against the way the
// position went. One that moves in jumps has passed the trip point when the
// switch is read, farther on the way it went.
func (p *Point) Elsewhere(since int64) (mm float64, sure bool) {
	up, down := p.Newest(Rising), p.Newest(Falling)
	switch {
	case p.LastAct[Rising] > since && p.LastAct[Falling] > since:
		return (up + down) / 2, up*down > 0 && math.Abs(up-down) < math.Abs(up+down)/2
	case p.LastAct[Rising] > since:
		return up, up < 0
	case p.LastAct[Falling] > since:
		return down, down > 0
	}
	return 0, false
}

// Newest returns how far from the usual it last switched in a direction, mm.
func (p *Point) Newest(d Direction) float64 {
	mm := float64(p.Error[d][recentActs-1])
	if p.Based[d] {
		mm -= p.Base[d]
	}
	return mm
}

func medianOf(v []float32) float64 {
	var s [recentActs]float32
	n := copy(s[:], v)
	for i := 1; i < n; i++ {
		for j := i; j > 0 && s[j] < s[j-1]; j-- {
			s[j], s[j-1] = s[j-1], s[j]
		}
	}
	if n%2 == 1 {
		return float64(s[n/2])
	}
	return float64(s[n/2-1]+s[n/2]) / 2
}
