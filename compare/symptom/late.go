package symptom

import (
	"math"

	"bridlewatch/compare/regression"
)

// Late finds how far apart in time the two readings of a pair are, and how far
// one stays behind when the direction turns. It fits the changes of the gap
// from one five minutes to the next to the changes of the speed, of the level,
// of the density and of what play, the usual and a large one, would make of
// the level. An offset or a
// density nobody knows makes the gap change with the level and is so told from
// a delay, which makes it change with the speed, and from friction, which only
// looks back to the last turn. The zero value is ready.
type Late struct {
	M [lateWindows]regression.Moments // the same changes, forgotten at three rates

	// Both says that the level is one of an echo that foam may lift: while the
	// other of the pair rests nothing moves. Set by the caller.
	Both    bool
	Other   float64 // where the other last moved to, mm
	MovedAt int64

	Quick bool // the level turns too often, set by the caller: nothing is folded

	Minutes [2]lateMark // the newest two, newest last
	Times   [2]int64
	Play    [2]float64 // where a follower with a little play, and with much, would be, mm
	Placed  bool

	Index  int64    // of the running five minutes
	Sum    lateMark // of its minutes
	N      float64
	Marks  [4]lateMark // of the newest five minutes
	Filled int
	At     int64 // of the newest change folded
}

// lateMark is the mean of a stretch of time.
type lateMark struct {
	Gap, Level, Ratio float64
	Behind            [2]float64
}

// Constants of Late.
const (
	lateStep   = 300  // s
	lateSteps  = 60   // changes while the level moved, five hours
	lateRange  = 8.0  // mm the level must move within four steps: less is noise of the level itself
	lateOther  = 4.0  // mm the other of a pair must move now and then, where foam may feign a level
	lateRest   = 1800 // s it may rest between: a float with friction rests at every turn
	lateApart  = 120  // s, between minutes that follow each other
	lateWild   = 20.0 // mm from both neighbours: not a movement
	lateLevel  = 50.0 // mm that make a change of level one
	lateRatio  = 0.005
	lateSigma  = 0.5 // mm, least scatter of a change
	lateSpread = 1.3 // changes share their ends: standard errors are that much larger
)

// latePlay is half the play of a sound follower, and half of what friction
// makes of it, mm.
var latePlay = [2]float64{1.5, 4}

// Windows of Late: a long delay shows within hours, a short one only over many
// movements, and friction in days.
const (
	lateFast = iota
	lateDays
	lateSlow
	lateWindows
)

// lateMemory is how long each window remembers, s.
var lateMemory = [lateWindows]float64{0.5 * 86400, 2.5 * 86400, 10 * 86400}

// lateMoves is the information about the level a delay and friction need: over
// the days they are remembered, changes of 3 and of 6 mm in five minutes.
var lateMoves = [2]float64{3, 10}

// termPlay takes the place of the constant: changes have none.
const termPlay = TermZero

var lateLeast = [regression.Terms]float64{termPlay: 5, TermSpan: 0.3, TermSkew: 1, TermDensity: 1, TermFriction: 5}

// Add folds one minute; clip is the largest change of the gap that counts
// whole, mm.
func (l *Late) Add(at int64, gap, level, ratio, clip float64) {
	m, times := &l.Minutes, &l.Times
	if whole := at-times[1] <= lateApart && times[1]-times[0] <= lateApart; whole {
		if strays(m[0].Gap, m[1].Gap, gap) { // a wild echo is not of the level, and two at turns would be friction
			m[1].Gap, m[1].Level = (m[0].Gap+gap)/2, (m[0].Level+level)/2
		}
		l.minute(times[1], m[1], (m[0].Level+m[1].Level+level)/3, clip)
	} else {
		l.Filled, l.N, l.Placed = 0, 0, false
	}
	m[0], m[1], times[0], times[1] = m[1], lateMark{Gap: gap, Level: level, Ratio: ratio}, times[1], at
}

// strays reports whether a minute's gap lies far from that of both neighbours.
func strays(before, gap, after float64) bool {
	return math.Min(gap-before, gap-after) > lateWild || math.Min(before-gap, after-gap) > lateWild
}

// minute folds a minute whose neighbours are known, with the level smoothed
// over the three of them: the same level for every regressor, so that noise
// cannot tell play from movement.
func (l *Late) minute(at int64, m lateMark, smooth, clip float64) {
	if !l.Placed {
		l.Play, l.Placed = [2]float64{smooth, smooth}, true
	}
	for i, half := range latePlay {
		l.Play[i] = math.Max(smooth-half, math.Min(smooth+half, l.Play[i]))
	}
	if i := at / lateStep; i != l.Index {
		if l.N >= 3 {
			copy(l.Marks[:], l.Marks[1:])
			l.Marks[3] = lateMark{l.Sum.Gap / l.N, l.Sum.Level / l.N, l.Sum.Ratio / l.N, [2]float64{l.Sum.Behind[0] / l.N, l.Sum.Behind[1] / l.N}}
			l.Filled = min(l.Filled+1, 4)
			l.fold(at, clip)
		} else {
			l.Filled = 0
		}
		l.Index, l.N, l.Sum = i, 0, lateMark{}
	}
	l.N++
	l.Sum.Gap += m.Gap
	l.Sum.Level += smooth
	l.Sum.Ratio += m.Ratio
	for i := range l.Play {
		l.Sum.Behind[i] += l.Play[i] - smooth
	}
}

// fold adds the change from the second to the third of the four newest marks;
// their neighbours give the speed at both.
func (l *Late) fold(at int64, clip float64) {
	m := &l.Marks
	low, high := math.Inf(1), math.Inf(-1)
	for i := range m {
		low, high = math.Min(low, m[i].Level), math.Max(high, m[i].Level)
	}
	if other := m[3].Level + m[3].Gap; math.Abs(other-l.Other) >= lateOther {
		l.Other, l.MovedAt = other, at
	}
	if l.Quick || l.Filled < 4 || high-low < lateRange || l.Both && at-l.MovedAt > lateRest {
		return
	}
	before, after := (m[2].Level-m[0].Level)/(2*lateStep), (m[3].Level-m[1].Level)/(2*lateStep)
	var u [regression.Terms]float64
	u[termPlay] = (m[2].Behind[0] - m[1].Behind[0]) / latePlay[0]
	u[TermSpan] = (m[2].Level - m[1].Level) / lateLevel
	u[TermSkew] = (after - before) / rateUnit
	u[TermDensity] = (m[2].Ratio - m[1].Ratio) / lateRatio
	u[TermFriction] = (m[2].Behind[1] - m[1].Behind[1]) / latePlay[1]
	since := math.Min(float64(at-l.At), 30*86400)
	l.At = at
	for w := range l.M {
		l.M[w].Add(math.Exp(-since/lateMemory[w]), 1, &u, math.Max(-clip, math.Min(clip, m[2].Gap-m[1].Gap)))
	}
}

// Estimate is a coefficient with its standard uncertainty and the share of the
// scatter it explains.
type Estimate struct {
	Value, U, Share float64
	OK              bool // the level moved so that it could be told
}

// surely is the least size an estimate leaves possible, 0 where there is none.
func (e Estimate) surely() float64 {
	if !e.OK {
		return 0
	}
	return math.Abs(e.Value) - 3*e.U
}

// Solve estimates from one window the delay in seconds, and how far the first
// of the pair stays behind beyond the usual play, in millimetres: negative
// where the second does.
func (l *Late) Solve(window int) (skew, behind Estimate) {
	m := &l.M[window]
	s, scale := m.Solve(&lateLeast), lateMemory[window]/lateMemory[lateDays]
	sigma := math.Max(lateSigma, s.Sigma) * lateSpread
	of := func(term int, unit, movement float64) Estimate {
		if !s.Excited[term] || s.I[TermSpan] < movement*scale || m.N < lateSteps {
			return Estimate{} // noise of the level would be taken for it
		}
		return Estimate{s.B[term] * unit, sigma / math.Sqrt(s.I[term]) * unit, explains(s.B[term], s.I[term], s.Sigma, m.N), true}
	}
	skew, behind = of(TermSkew, 1/rateUnit, lateMoves[0]), of(TermFriction, 1, lateMoves[1])
	behind.OK = behind.OK && s.Excited[termPlay] // else the usual play is taken for friction
	return skew, behind
}

// best is the delay by the window that knows it best.
func (l *Late) best() (best Estimate) {
	for w := range lateWindows {
		if skew, _ := l.Solve(w); skew.OK && (!best.OK || skew.U < best.U) {
			best = skew
		}
	}
	return best
}

// speed is how fast the level moves when it does, mm/s, as its root mean square.
func (l *Late) speed() float64 {
	m := &l.M[lateSlow]
	if m.N == 0 {
		return 0
	}
	return math.Sqrt(m.A[TermSpan][TermSpan]/m.N) * lateLevel / lateStep
}
