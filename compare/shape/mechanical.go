package shape

import (
	"math"

	"bridlewatch/compare/symptom"
)

// mechanical follows the level with a float that hangs one way or moves only
// when the level has left it by a distance.
func (f *fitter) mechanical(form Form, k0 int) Fit {
	best := Fit{Nats: math.Inf(-1)}
	for _, trial := range trials(form) {
		x := f.points[k0].x[f.channel]
		fit := f.score(k0, trial, func(i int) (float64, float64) {
			l, dt := f.rests[i].mean, 600.0
			if i > k0 {
				dt = float64(f.points[i].at - f.points[i-1].at)
			}
			if i > k0 && (f.points[i].after || form == Deadband && math.Abs(f.points[i-1].x[f.channel]-x) > 2*slackS) {
				x = f.points[max(k0, i-1)].x[f.channel] // a jump the marks blur is paid for once
			}
			x = hang(form, x, l, trial, dt)
			return x - l, slackS
		})
		if fit.Nats > best.Nats {
			best = fit
		}
	}
	return best
}

// trials are the slow rates in mm/s and the dead bands in mm that are tried.
func trials(form Form) []float64 {
	if form == Deadband {
		return []float64{10, 15, 22, 30, 45, 65}
	}
	return []float64{0, 0.25 / 60, 0.5 / 60, 1.0 / 60}
}

// hang is the next position of a float that does not follow freely.
func hang(form Form, x, level, trial, dt float64) float64 {
	switch form {
	case HangsUp:
		return math.Max(level, x-trial*dt)
	case HangsDown:
		return math.Min(level, x+trial*dt)
	}
	if math.Abs(level-x) > trial {
		return level
	}
	return x
}

// lagging follows the vessel with a time constant.
func (f *fitter) lagging(k0 int) Fit {
	best := Fit{Nats: math.Inf(-1)}
	if f.channel != symptom.VesselLevel {
		return best
	}
	for _, tau := range [...]float64{60, 120, 180, 300, 600, 900, 1800, 3600, 7200, 14400} {
		chamber, before := f.rests[k0].mean, f.points[k0].x[f.channel]
		fit := f.score(k0, tau, func(i int) (float64, float64) {
			v := f.points[i].x[f.channel]
			if i > k0 {
				dt := float64(f.points[i].at - f.points[i-1].at)
				chamber = ramped(chamber, before, v, dt, tau)
			}
			if f.points[i].after {
				chamber = f.rests[i].mean
			}
			before = v
			return v - chamber, 0.15 * math.Abs(v-chamber)
		})
		if fit.Nats > best.Nats {
			best = fit
		}
	}
	return best
}

// ramped is the answer of a first-order lag to an input that goes straight
// from a to b in dt seconds.
func ramped(x, a, b, dt, tau float64) float64 {
	if dt <= 0 {
		return x
	}
	k, d := (b-a)/dt, math.Exp(-dt/tau)
	return b - k*tau + (x-a+k*tau)*d
}

// weak follows the vessel by a small part: gas trapped above the chamber.
func (f *fitter) weak(k0 int) Fit {
	best := Fit{Nats: math.Inf(-1)}
	if f.channel != symptom.VesselLevel || !f.moved(k0) {
		return best
	}
	v0, c0 := f.points[k0].x[f.channel], f.rests[k0].mean
	for _, gain := range [...]float64{0.01, 0.03, 0.06, 0.1, 0.2} {
		fit := f.score(k0, gain, func(i int) (float64, float64) {
			v := f.points[i].x[f.channel]
			return v - c0 - gain*(v-v0), slackS
		})
		if fit.Nats > best.Nats {
			best = fit
		}
	}
	return best
}
