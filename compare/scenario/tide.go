package scenario

import (
	"math"
	"time"
)

// Tidal is the motion of the sea in a stilling well.
const Tidal Motion = "tidal"

// Tide says how the sea moves at one place: the tide itself, what wind and
// weather add over hours and days, and what a harbour adds over minutes.
type Tide struct {
	Mean    float64 // share of the centre-to-centre distance
	Range   float64 // of a spring tide, metres
	Diurnal float64 // amplitudes of K1 and O1 over those of M2 and S2

	Surge       float64 // metres, standard deviation of what weather adds
	Storms      float64 // a month
	StormHeight float64 // metres, of the highest
	StormWaves  float64 // factor on surface noise at the height of a storm

	Seiche       float64 // metres, amplitude of a strong one
	SeicheRest   float64 // metres, amplitude between strong ones
	SeichePeriod time.Duration
	Seiches      float64 // strong ones a month
}

// constituent is one line of the tide.
type constituent struct{ speed, amplitude, phase float64 } // rad/s, metres, rad

// speeds of the constituents in degrees an hour: M2, S2, N2, K1, O1, M4
// (Doodson's astronomical speeds as in any table of tidal constituents; from
// memory).
var speeds = [6]float64{28.9841042, 30, 28.4397295, 15.0410686, 13.9430356, 57.9682084}

// tidal is the state of a tide.
type tidal struct {
	tide  Tide
	mean  float64 // metres
	lines [len(speeds)]constituent
	now   float64 // seconds

	surge, smooth float64 // of unit standard deviation; smooth is behind its lag
	storm         float64 // seconds to its height, negative: after it
	stormHeight   float64 // metres
	stormWidth    float64 // seconds
	toStorm       float64 // seconds until the next begins

	sine, cosine wander  // of the seiche
	strength     float64 // metres, of a strong one now
	toSeiche     float64 // seconds until the next strong one
	decay        float64 // seconds
}

func newTidal(t Tide, height float64, s *source) *tidal {
	x := &tidal{tide: t, mean: t.Mean * height, decay: 6 * 3600}
	d := t.Diurnal
	share := [len(speeds)]float64{1, 0.35, 0.2, 0.8 * d, 0.55 * d, 0.02}
	// A spring tide is M2, S2 and the larger lines of the day together.
	main := t.Range / 2 / (1.35 + 0.8*d)
	for i, speed := range speeds {
		x.lines[i] = constituent{speed / 3600 * math.Pi / 180, main * share[i], 2 * math.Pi * s.uniform()}
	}
	x.surge = s.normal()
	x.smooth = x.surge
	x.sine.value, x.cosine.value = s.normal(), s.normal()
	x.toStorm, x.storm, x.stormWidth = x.wait(t.Storms, s), math.Inf(-1), 1
	x.toSeiche = x.wait(t.Seiches, s)
	return x
}

// wait is the time until something that comes so often a month.
func (x *tidal) wait(monthly float64, s *source) float64 {
	if monthly <= 0 {
		return math.Inf(1)
	}
	return s.exponential(secondsPerMonth / monthly)
}

// step advances dt seconds and returns the level in metres above the lower
// tap and the factor on the noise of the surface.
func (x *tidal) step(dt float64, s *source) (level, waves float64) {
	x.now += dt
	level = x.mean
	for _, c := range x.lines {
		level += c.amplitude * math.Cos(c.speed*x.now+c.phase)
	}
	blown, fury := x.weather(dt, s)
	return level + blown + x.swing(dt, s), 1 + fury*math.Max(0, x.tide.StormWaves-1)
}

// weather is what wind and air pressure add, and how near the height of a
// storm is, 0 to 1.
func (x *tidal) weather(dt float64, s *source) (level, fury float64) {
	const memory, lag = 18 * 3600, 3 * 3600
	w := wander{x.surge}
	x.surge = w.step(s, dt, memory)
	x.smooth += (x.surge - x.smooth) * -math.Expm1(-dt/lag)
	x.storm -= dt
	if x.toStorm -= dt; x.toStorm <= 0 {
		x.toStorm = x.wait(x.tide.Storms, s)
		x.stormWidth = s.between(6, 20) * 3600
		x.storm = 3 * x.stormWidth
		x.stormHeight = x.tide.StormHeight * s.between(0.3, 1)
		x.strength = math.Max(x.strength, x.tide.Seiche*s.uniform())
	}
	fury = math.Exp(-x.storm * x.storm / (2 * x.stormWidth * x.stormWidth))
	return x.tide.Surge*x.smooth + x.stormHeight*fury, fury
}

// swing is the seiche: a narrow band about the period of the harbour, never
// at rest and strong now and then.
func (x *tidal) swing(dt float64, s *source) float64 {
	period := x.tide.SeichePeriod.Seconds()
	if period <= 0 {
		return 0
	}
	if x.toSeiche -= dt; x.toSeiche <= 0 {
		x.toSeiche, x.decay = x.wait(x.tide.Seiches, s), s.between(3, 30)*3600
		x.strength = x.tide.Seiche * s.between(0.3, 1)
	}
	x.strength *= math.Exp(-dt / x.decay)
	angle := 2 * math.Pi * x.now / period
	wave := x.sine.step(s, dt, 6*period)*math.Sin(angle) + x.cosine.step(s, dt, 6*period)*math.Cos(angle)
	return (x.tide.SeicheRest + x.strength) * wave / math.Sqrt2
}
