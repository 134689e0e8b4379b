package scenario

import (
	"math"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// Graft puts one fault into readings that the instruments of a real gauge
// gave. The readings are those of a snapshot, after the conversion of the
// signal and before any physics: a level where the instrument gives one, the
// differential pressure of a cell, the force on a displacer. A fault that is
// an error of level goes through how much a millimetre of level changes the
// reading at the operating conditions of the data sheet.
//
// What the fault is, is said once, in active: a simulated gauge has the same.
// What a Graft does not know is the liquid itself. It takes the sound reading
// of the instrument for it, so that a fault put in is cleaner than a real one.
type Graft struct {
	unit  *Unit // at rest: for its data sheet, levers, noise and chance
	fault active
	start time.Time

	tracks   [partVessel + 1]track
	contacts [datasheet.MaxPoints]contact
	bends    [partVessel + 1]lever // error of the reading by level, where physics knows it beforehand
	float    float64               // where the float is
	silt     silt
	moved    float64 // sum of what levels were changed by, metres
	count    int     // readings in it
}

// track is what came from one instrument and what it was made into.
type track struct {
	in, out quantity.Reading
	began   bool
	held    float64            // when the chamber was closed
	late    []quantity.Reading // not yet arrived
}

// silt is a connection that is plugged: by how much the chamber's level is
// behind. Every instrument in the chamber is off by the same, and keeps the
// noise it has.
type silt struct {
	at         time.Time // of the newest reading of the witness
	near, fill float64   // level without noise, level behind the plug
}

// shift is how much higher the chamber stands than it would.
func (s *silt) shift() float64 { return s.fill - s.near }

// follow takes the next level of the chamber. The level without its noise is
// itself a little late, which the fill makes up for.
func (s *silt) follow(at time.Time, level, constant float64) {
	if s.at.IsZero() {
		s.at, s.near, s.fill = at, level, level
		return
	}
	dt := at.Sub(s.at).Seconds()
	if dt <= 0 {
		return
	}
	smooth := math.Max(60, 3*dt)
	s.at, s.near, s.fill = at, lag(s.near, level, dt, smooth), lag(s.fill, level, dt, constant+smooth)
}

// NewGraft prepares a fault that begins at start. It fails with a *FaultError
// when this gauge cannot have the fault, or readings alone do not say what it
// would do to them.
func NewGraft(sheet *datasheet.Sheet, f Fault, start time.Time, seed uint64) (*Graft, error) {
	d, ok := Describe(f.Kind)
	if !ok {
		return nil, &FaultError{Text: f.String(), Reason: "there is no such kind; the kinds are " + kindNames()}
	}
	if why, no := ungraftable[f.Kind]; no {
		return nil, &FaultError{Text: f.String(), Reason: why + "; rehearse and bench simulate it"}
	}
	u, err := New(sheet, Options{Seed: seed, Start: start})
	if err != nil {
		return nil, err
	}
	n := d.needs
	if f.Kind == TimeSkew { // the clock of a float's electronics can be wrong as well
		n = needLevel
	}
	g := &Graft{unit: u, start: start}
	if g.fault, err = u.activate(f, d, n); err != nil {
		return nil, err
	}
	return g, g.prepare()
}

// ungraftable says why readings of a sound gauge cannot be given some faults.
var ungraftable = map[Kind]string{
	UpperPlugged:         "what trapped gas does depends on the pressure in the chamber, which no reading gives",
	TransmitterNoiseLost: "readings do not say what of them is noise and what is the level",
}

// Part returns the tag of the instrument the fault happens to, empty for the
// chamber.
func (g *Graft) Part() string {
	s := &g.unit.sheet
	switch p := g.fault.part; p.kind {
	case partFloat:
		return s.Float.Tag
	case partPoint:
		return s.Points[p.point].Tag
	case partTransmitter, partSecond:
		return p.transmitter(s).Tag
	case partVessel:
		return s.Vessel.Tag
	}
	return g.fault.fault.Part
}

// Size is the size of the fault in SI units, the default where none was given.
func (g *Graft) Size() float64 { return g.fault.size }

// Moved is by how much the levels it touches were changed so far, on average
// and without sign.
func (g *Graft) Moved() quantity.Length {
	return quantity.Length(g.moved / float64(max(1, g.count)))
}

// prepare finds what physics knows beforehand, and refuses what needs a
// reading this gauge does not have.
func (g *Graft) prepare() error {
	refuse := func(reason string) error { return &FaultError{Text: g.fault.fault.String(), Reason: reason} }
	switch g.fault.fault.Kind {
	case DensityWrong, LegEmpty, LegPartlyFilled:
		return g.bend()
	case LegPlugged:
		if g.unit.sheet.Pressure == nil {
			return refuse("gauge " + g.unit.sheet.Tag + " measures no pressure, which the reading of a plugged leg follows; leave this kind out")
		}
	case PointShifted, PointWidened:
		if p := &g.unit.sheet.Points[g.fault.part.point]; g.witness(p.ByFloat()) == partNone {
			return refuse("gauge " + g.unit.sheet.Tag + " reads no level in the chamber that says when the switch would trip; leave this kind out")
		}
	case LowerPlugged, ChamberIsolated:
		if g.witness(true) == partNone {
			return refuse("gauge " + g.unit.sheet.Tag + " reads no level in the chamber; leave this kind out")
		}
	}
	return nil
}

// bend asks the physics at two levels what the liquid or the leg does to each
// reading.
func (g *Graft) bend() error {
	w := g.unit.world
	on := []active{g.fault}
	on[0].on = true
	height := float64(g.unit.sheet.Chamber.CentreToCentre)
	var diff [2][partVessel + 1]float64
	for k, share := range [2]float64{0.3, 0.7} {
		var s [2]gauge.Snapshot
		for i, faults := range [][]active{nil, on} {
			w.vessel = share * height
			if err := w.settle(faults); err != nil {
				return err
			}
			truth := w.truth
			truth.ChamberLevel = quantity.Length(share * height)
			if err := w.model.Indicate(&truth, &s[i]); err != nil {
				return err
			}
		}
		for kind := partFloat; kind <= partVessel; kind++ {
			if kind != partPoint && g.bent(kind) {
				diff[k][kind] = readingOf(&s[1], part{kind, -1}).Value - readingOf(&s[0], part{kind, -1}).Value
			}
		}
	}
	for kind := range g.bends {
		slope := (diff[1][kind] - diff[0][kind]) / (0.4 * height)
		g.bends[kind] = lever{zero: diff[0][kind] - 0.3*height*slope, slope: slope}
	}
	if p := g.fault.part.transmitter(&g.unit.sheet); g.fault.fault.Kind == LegPartlyFilled && p.Principle == datasheet.DPDry {
		probe := g.unit.probe(g.fault.part.kind)
		g.bends[g.fault.part.kind] = lever{zero: g.fault.legError(g.unit.legs(probe, &w.truth)) * probe.perPascal()}
	}
	return nil
}

// bent reports whether physics gives an instrument an error by the fault: the
// liquid is that of all, a leg is one instrument's.
func (g *Graft) bent(kind partKind) bool {
	if g.fault.fault.Kind == DensityWrong {
		return kind == partFloat || kind == partTransmitter || kind == partSecond || kind == partDensity
	}
	return kind == g.fault.part.kind
}

// level is the level a reading of an instrument stands for.
func (g *Graft) level(kind partKind, value float64) float64 {
	if kind == partTransmitter || kind == partSecond {
		l := g.unit.probe(kind).lever
		return (value - l.zero) / l.slope
	}
	return value
}

// slope is how much a metre of level changes a reading.
func (g *Graft) slope(kind partKind) float64 {
	if kind == partTransmitter || kind == partSecond {
		return g.unit.probe(kind).lever.slope
	}
	return 1
}

// inChamber reports whether an instrument sees the chamber's level.
func (g *Graft) inChamber(kind partKind) bool {
	if p := (part{kind, -1}).transmitter(&g.unit.sheet); p != nil {
		return p.Chamber != "vessel"
	}
	return kind == partFloat && g.unit.sheet.Float.Follower != datasheet.NoFollower
}

// witness is the instrument whose reading says where the float or the liquid
// is that works a switch.
func (g *Graft) witness(byFloat bool) partKind {
	order := []partKind{partTransmitter, partSecond, partFloat}
	if byFloat {
		order = []partKind{partFloat, partTransmitter, partSecond}
	}
	for _, kind := range order {
		if g.inChamber(kind) {
			return kind
		}
	}
	return partNone
}

// noise is a little noise of an instrument that stands still, in metres.
func (g *Graft) noise(kind partKind) float64 {
	sd := g.unit.character.float.noise
	if kind == partTransmitter || kind == partSecond {
		sd = g.unit.probe(kind).errors.noise
	}
	return sd * g.unit.noise.normal()
}

// since is a time in seconds since the fault began.
func (g *Graft) since(at time.Time) float64 { return math.Max(0, at.Sub(g.start).Seconds()) }

// CanGraft reports whether a gauge can be given a fault.
func CanGraft(sheet *datasheet.Sheet, f Fault) bool {
	_, err := NewGraft(sheet, f, time.Time{}, 0)
	return err == nil
}

// GraftKinds lists the kinds a Graft makes.
func GraftKinds() (all []Description) {
	for _, list := range [][]Description{catalogue[:], grafts[:]} {
		for _, d := range list {
			if _, no := ungraftable[d.Kind]; !no {
				all = append(all, d)
			}
		}
	}
	return all
}
