package compare

import (
	"math"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/symptom"
)

// Allowance is what the gap of a pair may be by the newest scan that had both
// readings. A scan without one of them knows nothing about the other's share.
type Allowance struct {
	Budget float64         // of the whole gap, mm
	Parts  symptom.Varying // standard uncertainty each varying input gives the gap, signed, mm
	Varies float64         // how far a healthy gap may be from its baseline, mm
	Weeks  float64         // how far from where it was in the last weeks, mm
}

// allow renews the allowance of a pair; assumed says that a condition is. A level
// at or beyond a tap has no uncertainty of its own: what was allowed where both
// were last between the taps holds on.
func (g *Gauge) allow(p gauge.Pair, m *gauge.Measurement, st *State, assumed bool) {
	first, second := symptom.Members(p)
	a, b := levelOf(m, first), levelOf(m, second)
	base, w := &st.Base[p], &st.Allow[p]
	if a.OK() && b.OK() || w.Budget == 0 && a.Bound != level.None && b.Bound != level.None {
		w.Budget = g.together(&m.Gaps[p], a, b, first)
		for i, input := range varying {
			w.Parts[i] = 1e3 * (a.Parts[input] - b.Parts[input])
		}
	}
	learned, now := base.Parts(), w.Parts
	if assumed {
		for i := range now {
			now[i] *= assumedMore
		}
	}
	if g.fitted[symptom.ChamberTemperatureSignal] && !assumed {
		scale(&now, &learned, chamberTemperaturePart, measuredVaries)
	}
	wander := math.Max(0, 3*base.Sigma-wanderFree)
	w.Varies = math.Hypot(changeable(&now, &learned), wander)
	scale(&now, &learned, legPart, legInWeeks)
	w.Weeks = math.Hypot(changeable(&now, &learned), wander)
	st.Varies[p] = math.Max(w.Varies, st.Varies[p]*forgetVaries)
}

// together is the budget of a gap, mm, as if both levels were read at one
// instant: the detectors price unequal times themselves, by the speed and the
// distance of the readings of a whole minute, and once is enough.
func (g *Gauge) together(gap *gauge.Gap, a, b *level.Level, first symptom.Channel) float64 {
	if !gap.OK {
		return 2 * mm(pairU(a, b))
	}
	skew, u := a.Parts[level.Skew]-b.Parts[level.Skew], float64(gap.U)
	if skew == 0 || g.sheet.Limits.Gap > 0 && first != symptom.VesselLevel {
		return mm(gap.Budget)
	}
	return mm(gap.Budget) * math.Sqrt(math.Max(0, 1-skew*skew/(u*u)))
}

// What a varying input can do, as a share of its standard uncertainty. The error
// of a thermometer is most of a measured temperature's and hardly changes; what
// does is how well its place stands for the whole chamber. A reference leg goes
// with the season: within weeks only the weather of those weeks is left of the
// ten kelvin nobody measures. The values of whole days hold little of the weather
// (all common practice, no source).
const (
	measuredVaries = 0.5
	dailyVaries    = 0.5 // of a chamber's temperature, measured or not, in values of whole days
	legInWeeks     = 0.3
)

// Places in varying and in symptom.Varying.
const (
	liquidPart             = 0
	chamberTemperaturePart = 1
	legPart                = 4
)

// scale multiplies one part of both.
func scale(now, learned *symptom.Varying, part int, by float64) {
	now[part] *= by
	learned[part] *= by
}

// assumedMore is how much more a varying input may do to a gap while a
// condition is assumed: nobody knows how far the plant is from its data sheet.
const assumedMore = 2.0

// assumes reports whether a condition the densities depend on is assumed,
// because its signal is lost.
func (g *Gauge) assumes(st *State) bool {
	return g.away(st, math.MaxInt64) != 0
}

// away returns the conditions whose signals were lost at a time or before, one
// bit each.
func (g *Gauge) away(st *State, by int64) (mask uint8) {
	for s := symptom.PressureSignal; s <= symptom.DensitySignal; s++ {
		if since := st.Presence.LostSince[s]; g.fitted[s] && since != 0 && since <= by {
			mask |= 1 << (s - symptom.PressureSignal)
		}
	}
	return mask
}

// How long a condition must be away to change the levels of minutes, and how
// long their median takes to pass such a change, s.
const (
	assumedAfter = minuteSeconds
	assumedSteps = 3 * minuteSeconds
)

// reassumed reports whether a condition came or went just now: levels that jump
// because a density is assumed, or known again, have not moved.
func (g *Gauge) reassumed(at int64, st *State) bool {
	if away := g.away(st, at-assumedAfter); away != st.Away {
		st.Away, st.AwayAt = away, at
	}
	return at-st.AwayAt <= assumedSteps
}

// tolerance is what a pair's gap may be: the budget of the instant, or, where
// a baseline makes that smaller, what the inputs that vary can change of it. A
// limit the user sets stands as it is, and with learn-baseline counts from the
// baseline.
func (g *Gauge) tolerance(p gauge.Pair, halfSpans float64, st *State, assumed bool) symptom.Tolerance {
	a, _ := symptom.Members(p)
	w, base := &st.Allow[p], &st.Base[p]
	t := symptom.Tolerance{UD: atOnce(w.Budget, &w.Parts), Limit: g.sheet.Limits.Gap > 0 && a != symptom.VesselLevel}
	if assumed {
		t.UD *= assumedMore
	}
	if a == symptom.VesselLevel {
		t.Floor = 2
	}
	if !base.Known {
		return t
	}
	t.Sigma, t.Usual = base.Sigma, base.Normal(halfSpans)
	if t.Limit {
		if g.sheet.Budget.LearnBaseline {
			t.Normal = base.Normal(halfSpans) // the user's limit, about what is normal
		}
		return t
	}
	if w.Varies < t.UD {
		t.Stated, t.Normal, t.UD = t.UD, t.Usual, w.Varies
	} else {
		t.UD, t.Normal = withRange(t.UD, t.Usual, &w.Parts)
	}
	if w.Weeks < weeksWorth*t.UD {
		t.Weeks = w.Weeks
	}
	return t
}

// atOnce is a budget in which the chamber's temperature is at an end of its range
// while the other inputs that vary are at theirs, mm. A product stays for days,
// and each of them has its warmest hours: of two ends that meet daily the
// squares do not add.
func atOnce(budget float64, now *symptom.Varying) float64 {
	sum := 0.0
	for i, u := range now {
		if i != chamberTemperaturePart {
			sum += u * u
		}
	}
	daily := math.Abs(now[chamberTemperaturePart])
	steady := math.Max(0, budget*budget-4*(sum+daily*daily))
	ends := math.Sqrt(3) * (math.Sqrt(sum) + daily)
	return math.Max(budget, math.Sqrt(steady+ends*ends))
}

// withRange widens a budget around zero to where the inputs that vary can take a
// gap from what is usual, each to an end of its range of √3 standard
// uncertainties (JCGM 100:2008, 4.3.7, rectangular): a budget of two standard
// uncertainties ends before that where a density has most of it. It returns
// half the width and the middle, mm.
func withRange(budget, usual float64, now *symptom.Varying) (half, middle float64) {
	sum := 0.0
	for _, u := range now {
		sum += u * u
	}
	low, high := math.Min(-budget, usual-math.Sqrt(3*sum)), math.Max(budget, usual+math.Sqrt(3*sum))
	return (high - low) / 2, (high + low) / 2
}

// What a healthy gap can do within half an hour (common practice, no source): its
// means scatter, a liquid under exchange may reach a third of the way from one
// end of its range to the other, and what a density does grows with the level.
const (
	jumpLeast   = 6.0 // mm
	jumpScatter = 4.0 // standard deviations of a ten-minute mean
	jumpVaries  = 0.35
	jumpSteep   = 1.2
	jumpSkew    = 20.0 // s
)

// jumps is what a jump of a pair's gap must exceed to be one.
func (g *Gauge) jumps(p gauge.Pair, st *State) symptom.JumpLimit {
	varies := st.Allow[p].Varies
	least := math.Max(jumpLeast, math.Max(jumpScatter*st.Base[p].Scatter(), jumpVaries*varies)) + g.pitchOf(p)/2
	steep := jumpSteep * varies / g.scale.Top
	if !st.Base[p].Known {
		steep += symptom.SlopeLargest / (g.scale.Top / 2) // of scale errors nobody knows yet
	}
	least = math.Hypot(least, jumpScatter*st.unrest(p))
	return symptom.JumpLimit{Least: least, Steep: steep, Skew: jumpSkew + st.Sign[p].Apart()}
}

// varying are the inputs that differ from one week to the next on a healthy
// gauge; all others are constant and part of the baseline.
var varying = [len(symptom.Varying{})]level.Input{
	liquidPart: level.LiquidDensity, chamberTemperaturePart: level.ChamberTemperature, level.VapourDensity, level.VesselDensity,
	legPart: level.LegDensity, level.GasPermittivity,
}

// weeksWorth is how much less a gap must be able to change within weeks than in
// all for the last weeks to be a reference of their own.
const weeksWorth = 0.8

// steadyRest is what remains of the constant inputs after a baseline: scale
// errors away from the level it was learned at, and backlash, mm.
const (
	steadyRest = 2.0
	wanderFree = 3.9 // mm, three times the scatter of a learned gap that counts as noise and not as wander
)

// changeable returns how far a healthy gap can move from its baseline. The
// varying inputs have a range of √3 standard uncertainties to either side
// (JCGM 100:2008, 4.3.7, rectangular). The baseline was learned somewhere in
// it, perhaps at one end and at another level, where they weigh more than
// here, and the gap may now be at the other end.
func changeable(now, learned *symptom.Varying) float64 {
	sum := 0.0
	for i := range now {
		d := math.Abs(now[i]) + math.Max(math.Abs(now[i]), math.Abs(learned[i]))
		sum += d * d
	}
	return math.Sqrt(3*sum + steadyRest*steadyRest)
}
