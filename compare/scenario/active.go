package scenario

import "math"

// active is a fault in the course of being injected.
type active struct {
	fault Fault
	needs needs
	part  part
	size  float64
	on    bool
	start float64 // seconds since the start of the unit
	end   float64
	age   float64 // seconds it has been on

	held    float64 // a value frozen at onset
	holding bool
}

// update switches the fault on and off.
func (a *active) update(now float64) {
	was := a.on
	a.on = now >= a.start && now < a.end
	if a.on && !was {
		a.holding = false
	}
	a.age = now - a.start
}

// hold keeps the first value it is given while the fault is on.
func (a *active) hold(value float64) float64 {
	if !a.holding {
		a.held, a.holding = value, true
	}
	return a.held
}

// float is where a float goes that should go from was to wants, dt seconds
// later. The height is centre to centre, bottom the lowest possible reading;
// all are metres of the follower's indication.
func (a *active) float(was, wants, dt, bottom float64) float64 {
	switch a.fault.Kind {
	case FloatStuck:
		return a.hold(was)
	case FloatPartlyStuck:
		return math.Min(wants, a.size)
	case FloatOneWay:
		return math.Max(wants, was-a.size/60*dt)
	case FloatStickSlip:
		if math.Abs(wants-was) > a.size {
			return wants
		}
		return was
	case FloatSunk:
		const sinking = 0.02 // metres per second
		a.held = a.hold(was) - sinking*dt
		return math.Max(math.Min(a.held, wants), bottom)
	case FloatHeavier:
		return math.Max(wants-a.size*a.age, bottom)
	case FloatDrags:
		held := a.hold(was)
		return held + a.size*(wants-held)
	}
	return wants
}

// follower is what the follower reads for a float at position.
func (a *active) follower(position float64) float64 {
	switch a.fault.Kind {
	case FollowerDecoupled:
		return a.hold(position)
	case FollowerShifted:
		return position + a.size
	}
	return position
}

// scatter is what a noisy instrument adds to one reading, metres.
func (a *active) scatter(kind Kind, s *source) float64 {
	if a.fault.Kind != kind {
		return 0
	}
	return a.size * s.normal()
}

// levelError is the error of a transmitter in metres of level.
func (a *active) levelError(level float64, s *source) float64 {
	switch a.fault.Kind {
	case TransmitterZero:
		return a.size
	case TransmitterSpan:
		return a.size * level
	case TransmitterDrift:
		return a.size * a.age
	case DisplacerStuck:
		if math.Abs(level-a.hold(level)) > a.size {
			a.held = level
		}
		return a.held - level
	case RadarBuildUp:
		// The deposit is seen instead of the liquid half of the time, in spells of
		// some minutes.
		if !a.holding || s.chance(0.1) {
			a.held, a.holding = s.uniform(), true
		}
		if level < a.size && a.held < 0.5 {
			return a.size - level
		}
	}
	return 0
}

// foam is how far foam lifts an echo. It comes and goes in spells of half an
// hour.
func (a *active) foam(s *source) float64 {
	phase := math.Sin(a.age / 1800 * math.Pi)
	return a.size * math.Max(0, phase) * (0.7 + 0.3*s.normal())
}

// legError is the change of a differential pressure in pascals. A lost fill is
// part of the truth the physics is asked about and not repeated here.
func (a *active) legError(l legs) float64 {
	switch {
	case a.fault.Kind == LegPartlyFilled && !l.wet:
		return -l.sign * (l.liquid - l.gas) * l.height * a.size
	case a.fault.Kind == LegPlugged:
		return l.sign * (l.pressure - a.hold(l.pressure))
	}
	return 0
}

// legs describes the reference leg of a dp transmitter.
type legs struct {
	wet         bool
	sign        float64 // of the dp when the pressure on the leg falls
	gas, liquid float64 // weights, pascals per metre
	height      float64
	pressure    float64
}
