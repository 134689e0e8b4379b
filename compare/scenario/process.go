package scenario

import (
	"math"
	"time"
)

// Motion is how the level of a vessel moves.
type Motion string

// Motions.
const (
	Control Motion = "control" // held at a set point that is moved now and then
	Batch   Motion = "batch"   // filled and emptied in turn
)

// Process describes how one vessel is operated. Levels are fractions of the
// centre-to-centre distance, so that one profile fits any gauge.
type Process struct {
	Motion    Motion
	Low, High float64 // range of set points, or of the batch
	// RateMin and RateMax bound the speed of set-point moves and of filling and
	// emptying, metres per second.
	RateMin, RateMax float64
	Hold             time.Duration // mean time between moves
	Wander           float64       // standard deviation of the level about its target, metres
	WanderTime       time.Duration // its correlation time
	Quiet            float64       // share of days on which nothing moves
	Swell            float64       // shrink and swell of a boiling drum, metres; 0: none
	Boil             float64       // factor on surface noise in bursts; 0 or 1: calm

	PressureSwing    float64       // relative standard deviation of the absolute pressure
	PressureTime     time.Duration // its correlation time
	TemperatureSwing float64       // kelvin, slow, standard deviation

	Lag time.Duration // hydraulic time constant of chamber behind vessel

	Tide Tide // of a Tidal motion; nothing else of how the level moves counts then
}

const millimetrePerMinute = 1e-3 / 60

// The usual profiles.

// ControlProcess is a vessel under level control: 25 mm standard deviation with half an
// hour of memory, set point moved every day or so.
func ControlProcess() Process {
	return Process{
		Motion: Control, Low: 0.25, High: 0.75, RateMin: 2 * millimetrePerMinute, RateMax: 8 * millimetrePerMinute,
		Hold: 20 * time.Hour, Wander: 0.025, WanderTime: 30 * time.Minute, Quiet: 0.03,
		PressureSwing: 0.01, PressureTime: 2 * time.Hour, TemperatureSwing: 2, Lag: 8 * time.Second,
	}
}

// BatchProcess is a vessel filled and emptied between one tenth and nine tenths.
func BatchProcess() Process {
	return Process{
		Motion: Batch, Low: 0.10, High: 0.90, RateMin: 4 * millimetrePerMinute, RateMax: 12 * millimetrePerMinute,
		Hold: 90 * time.Minute, Wander: 0.004, WanderTime: 10 * time.Minute, Quiet: 0.05,
		PressureSwing: 0.005, PressureTime: time.Hour, TemperatureSwing: 3, Lag: 8 * time.Second,
	}
}

// QuietProcess is a vessel in which little happens for days.
func QuietProcess() Process {
	return Process{
		Motion: Control, Low: 0.35, High: 0.65, RateMin: 1 * millimetrePerMinute, RateMax: 4 * millimetrePerMinute,
		Hold: 90 * time.Hour, Wander: 0.006, WanderTime: time.Hour, Quiet: 0.4,
		PressureSwing: 0.005, PressureTime: 4 * time.Hour, TemperatureSwing: 2, Lag: 8 * time.Second,
	}
}

// DrumProcess is a boiler drum under three-element control with shrink and swell.
func DrumProcess() Process {
	return Process{
		Motion: Control, Low: 0.42, High: 0.58, RateMin: 4 * millimetrePerMinute, RateMax: 20 * millimetrePerMinute,
		Hold: 10 * time.Hour, Wander: 0.020, WanderTime: 8 * time.Minute, Swell: 0.035, Boil: 4,
		PressureSwing: 0.012, PressureTime: 40 * time.Minute, Lag: 5 * time.Second,
	}
}

// mover moves the level of one vessel.
type mover struct {
	process  Process
	height   float64 // centre to centre, metres
	base     float64 // metres: where the target is now
	target   float64 // metres: where it goes
	rate     float64 // metres per second while moving
	wait     float64 // seconds until the next move
	day      float64 // seconds until the next day is drawn
	quiet    bool
	wander   wander
	lagged   float64 // wander behind its lag
	swelling float64 // metres the swell goes to, decays
	swell    float64 // metres, decays
	toSwell  float64 // seconds until the next load change
	restless float64 // factor on the wander
	boil     float64 // factor on surface noise now
	toBoil   float64 // seconds until boiling changes
	tide     *tidal  // nil: no sea
}

const secondsPerDay = 86400

func newMover(p Process, height float64, s *source) mover {
	m := mover{process: p, height: height, boil: 1, restless: 1}
	m.base = height * s.between(p.Low, p.High)
	m.target = m.base
	m.wait = s.exponential(p.Hold.Seconds()) * 0.2
	m.day = s.uniform() * secondsPerDay
	m.wander.value = s.normal()
	m.lagged = m.wander.value
	m.toSwell = s.exponential(1800)
	m.toBoil = s.exponential(3600)
	if p.Motion == Tidal {
		m.tide = newTidal(p.Tide, height, s)
	}
	return m
}

// step advances dt seconds and returns the level in the vessel in metres
// above the lower tap. It stays between two and ninety-eight per cent.
func (m *mover) step(dt float64, s *source) float64 {
	if m.tide != nil {
		level, waves := m.tide.step(dt, s)
		m.boil = waves
		return math.Min(math.Max(level, -0.05*m.height), 1.05*m.height) // the sea knows no taps
	}
	m.day -= dt
	if m.day <= 0 {
		m.day += secondsPerDay
		m.quiet = s.chance(m.process.Quiet)
	}
	if !m.quiet {
		m.move(dt, s)
	}
	m.boiling(dt, s)
	w := m.smooth(dt, s) * m.process.Wander * m.restless
	if m.quiet {
		w *= 0.1
	}
	return math.Min(math.Max(m.base+w+m.swell, 0.02*m.height), 0.98*m.height)
}

// smooth is the wander of the level about its target, of unit standard
// deviation. A level is the sum of what flowed in and out, so it has a speed:
// the wander passes a lag of a sixth of its correlation time.
func (m *mover) smooth(dt float64, s *source) float64 {
	const share = 1.0 / 6
	tau := m.process.WanderTime.Seconds()
	m.wander.step(s, dt, tau)
	m.lagged += (m.wander.value - m.lagged) * -math.Expm1(-dt/(share*tau))
	return m.lagged * math.Sqrt(1+share)
}

// move brings the base towards its target and draws the next target after a hold.
func (m *mover) move(dt float64, s *source) {
	if m.base != m.target {
		way := m.target - m.base
		step := m.rate * dt
		if math.Abs(way) > step {
			m.base += math.Copysign(step, way)
			return
		}
		m.base = m.target
		m.wait = s.exponential(m.process.Hold.Seconds())
		return
	}
	m.wait -= dt
	if m.wait > 0 {
		return
	}
	p := m.process
	m.rate = s.between(p.RateMin, p.RateMax)
	if p.Motion != Batch {
		m.target = m.height * s.between(p.Low, p.High)
		return
	}
	// A batch goes to the other end, not always the whole way.
	third := (p.High - p.Low) / 5
	if m.base > m.height*(p.Low+p.High)/2 {
		m.target = m.height * (p.Low + third*s.uniform()*s.uniform())
	} else {
		m.target = m.height * (p.High - third*s.uniform()*s.uniform())
	}
}

// boiling draws load changes (shrink and swell) and bursts of surface noise.
func (m *mover) boiling(dt float64, s *source) {
	if m.process.Swell > 0 {
		m.swelling *= math.Exp(-dt / 180)
		m.swell += (m.swelling - m.swell) * -math.Expm1(-dt/40)
		if m.toSwell -= dt; m.toSwell <= 0 {
			m.toSwell = s.exponential(2400)
			m.swelling += m.process.Swell * s.normal()
		}
	}
	if m.process.Boil > 1 {
		if m.toBoil -= dt; m.toBoil <= 0 {
			m.toBoil = s.exponential(3600)
			m.boil = 1
			if s.chance(0.4) {
				m.boil = s.between(2, m.process.Boil)
			}
		}
	}
}
