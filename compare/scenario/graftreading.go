package scenario

import (
	"math"
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// Apply changes the readings of one scan into what they would have been. Scans
// come in order of time, the first at the start of the fault. A reading that
// is not usable stays what it was, and a sample that comes again, because
// there was none newer, says again what was made of it.
func (g *Graft) Apply(s *gauge.Snapshot) {
	sound := *s
	if g.fault.fault.Kind == LowerPlugged {
		kind := g.witness(true)
		if r := readingOf(s, part{kind, -1}); r.Usable() {
			g.silt.follow(r.Time, g.level(kind, r.Value), g.fault.size)
		}
	}
	for kind := partFloat; kind <= partVessel; kind++ {
		if kind == partPoint || !g.touches(kind) {
			continue
		}
		r, t := readingOf(s, part{kind, -1}), &g.tracks[kind]
		if g.fault.fault.Kind == TimeSkew {
			was := *r
			if *r = t.delay(*r, s.Time, g.fault.size); r.Usable() {
				g.move(kind, r.Value-was.Value)
			}
			continue
		}
		*r = g.next(kind, t, *r, &sound)
	}
	for i := range g.unit.sheet.Points {
		g.point(i, &sound, s)
	}
}

// touches reports whether the fault changes what an instrument says.
func (g *Graft) touches(kind partKind) bool {
	switch g.fault.fault.Kind {
	case DensityWrong:
		return g.bent(kind)
	case LowerPlugged, ChamberIsolated:
		return g.inChamber(kind)
	}
	return kind == g.fault.part.kind
}

// next makes the reading of one instrument.
func (g *Graft) next(kind partKind, t *track, r quantity.Reading, s *gauge.Snapshot) quantity.Reading {
	if g.fault.fault.Kind == SignalLost {
		r.Quality, r.Reason = quantity.Bad, quantity.NoAnswer
		return r
	}
	if !r.Usable() {
		return r
	}
	if t.began && r.Time.Equal(t.in.Time) && r.Value == t.in.Value {
		r.Value = t.out.Value
		r.Quality = min(r.Quality, t.out.Quality)
		return r
	}
	dt := 0.0
	if t.began {
		dt = math.Max(0, r.Time.Sub(t.in.Time).Seconds())
	}
	g.fault.update(g.since(r.Time))
	out := r
	out.Value = g.value(kind, t, r.Value, dt, s)
	if g.fault.fault.Kind == TransmitterSaturated {
		out.Quality, out.Reason = quantity.Uncertain, quantity.Saturated
	}
	g.move(kind, out.Value-r.Value)
	t.in, t.out, t.began = r, out, true
	return out
}

// move notes by how much a reading was changed.
func (g *Graft) move(kind partKind, by float64) {
	g.moved += math.Abs(by / g.slope(kind))
	g.count++
}

// value is what an instrument says with the fault that said value without, dt
// seconds after its last reading.
func (g *Graft) value(kind partKind, t *track, value, dt float64, s *gauge.Snapshot) float64 {
	f, chance := &g.fault, &g.unit.faultRand
	level, slope := g.level(kind, value), g.slope(kind)
	switch f.fault.Kind {
	case FloatStuck, FloatPartlyStuck, FloatOneWay, FloatStickSlip, FloatSunk:
		if !t.began {
			g.float = value
		}
		if g.float = f.float(g.float, value, dt, g.unit.bottom()); g.float == value {
			return value
		}
		return g.float + g.noise(kind)
	case FloatHeavier, FloatDrags:
		if !t.began {
			g.float = value
		}
		g.float = f.float(g.float, value, dt, g.unit.bottom())
		return g.float
	case FollowerDecoupled:
		return f.follower(value) + g.noise(kind)
	case FollowerShifted:
		return f.follower(value)
	case TransmitterFrozen:
		return f.hold(value)
	case TransmitterSaturated:
		return g.unit.probe(kind).limits[1]
	case RadarFoam:
		return value + f.foam(chance)*slope
	case LegPlugged:
		return value + g.plugged(kind, s)
	case DensityWrong, LegEmpty, LegPartlyFilled:
		return value + g.bends[kind].zero + g.bends[kind].slope*level
	case LowerPlugged:
		return value + g.silt.shift()*slope
	case ChamberIsolated:
		if !t.began {
			t.held = value
		}
		return t.held + g.noise(kind)*slope
	case TransmitterNoisy, FollowerNoisy, VesselNoisy:
		return value + f.size*chance.normal()*slope
	case SignalWild:
		if chance.chance(f.size) {
			return value + math.Copysign(chance.between(0.05, 0.5), chance.uniform()-0.5)*float64(g.unit.sheet.Chamber.CentreToCentre)*slope
		}
		return value
	}
	return value + f.levelError(level, chance)*slope
}

// lag brings what follows with a time constant dt seconds nearer to its goal.
func lag(was, goal, dt, constant float64) float64 {
	return was + (goal-was)*-math.Expm1(-dt/constant)
}

// plugged is the error of a dp reading whose leg keeps the pressure it had.
func (g *Graft) plugged(kind partKind, s *gauge.Snapshot) float64 {
	p := g.unit.probe(kind)
	l := g.unit.legs(p, &g.unit.world.truth)
	switch {
	case s.Pressure.Usable():
		l.pressure = s.Pressure.Value
	case g.fault.holding:
		l.pressure = g.fault.held
	default:
		return 0
	}
	return g.fault.legError(l) * p.perPascal()
}

// delay lets samples arrive late: with the value they had, at the time they
// come, as from a device whose clock or filter is behind.
func (t *track) delay(r quantity.Reading, now time.Time, late float64) quantity.Reading {
	by := time.Duration(late * float64(time.Second))
	if n := len(t.late); r.Usable() && (n == 0 && !r.Time.Equal(t.in.Time) || n > 0 && !r.Time.Equal(t.late[n-1].Time)) {
		t.late = append(t.late, r)
	}
	if !t.began {
		t.in, t.out, t.began = r, r, true
		t.late = t.late[:0]
	}
	for len(t.late) > 0 && !t.late[0].Time.Add(by).After(now) {
		t.in, t.out = t.late[0], t.late[0]
		t.out.Time = t.late[0].Time.Add(by)
		t.late = t.late[1:]
	}
	out := t.out
	if !r.Usable() {
		out.Quality, out.Reason = r.Quality, r.Reason
	}
	return out
}

// point makes what a switch says.
func (g *Graft) point(i int, sound, s *gauge.Snapshot) {
	r, p, f := &s.Points[i], &g.unit.sheet.Points[i], &g.fault
	if !r.Usable() {
		return
	}
	c := &g.contacts[i]
	if !c.known {
		c.wet, c.known = r.Value >= 0.5, true
	}
	mine := f.part == (part{partPoint, i})
	elevation, differential := float64(p.Elevation), float64(p.Differential)
	is, ok := g.position(p.ByFloat(), sound)
	switch k := f.fault.Kind; {
	case k == PointFailed && mine, k == ChamberIsolated:
	case k == SignalLost && mine:
		r.Quality, r.Reason = quantity.Bad, quantity.NoAnswer
		return
	case k == PointWidened && mine:
		if ok {
			c.pass(is, elevation, differential+f.size)
		}
	case k == PointShifted && mine:
		g.follow(c, r, ok, is, is-f.size, elevation, differential)
	case k == LowerPlugged && ok:
		g.follow(c, r, ok, is, is+g.silt.shift(), elevation, differential)
	case g.carries(p.ByFloat()):
		g.follow(c, r, ok && g.tracks[partFloat].began, is, g.float-float64(g.unit.sheet.Float.Offset), elevation, differential)
	default:
		return
	}
	r.Value = 0
	if c.wet {
		r.Value = 1
	}
}

// carries reports whether the fault moves the magnet that works the switches.
func (g *Graft) carries(byFloat bool) bool {
	switch g.fault.fault.Kind {
	case FloatStuck, FloatPartlyStuck, FloatOneWay, FloatStickSlip, FloatSunk, FloatHeavier, FloatDrags:
		return byFloat
	}
	return false
}

// follow sets a switch for the position is that becomes goes. On the same side
// of it the switch says what it said: it need not trip where its data sheet
// has it.
func (g *Graft) follow(c *contact, r *quantity.Reading, known bool, is, goes, elevation, differential float64) {
	if !known {
		return
	}
	if (is >= elevation) == (goes >= elevation) {
		c.wet = r.Value >= 0.5
		return
	}
	c.pass(goes, elevation, differential)
}

// position is where the float or the liquid is that works a switch.
func (g *Graft) position(byFloat bool, s *gauge.Snapshot) (float64, bool) {
	kind := g.witness(byFloat)
	if kind == partNone {
		return 0, false
	}
	r := readingOf(s, part{kind, -1})
	level := g.level(kind, r.Value)
	if kind == partFloat {
		level -= float64(g.unit.sheet.Float.Offset)
	}
	return level, r.Usable()
}
