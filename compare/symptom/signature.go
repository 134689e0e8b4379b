package symptom

import (
	"math"

	"bridlewatch/compare/regression"
)

// Terms of a signature: how the gap of a pair depends on what happens.
const (
	TermZero     = iota // mm
	TermSpan            // mm per half-span of level
	TermSkew            // seconds: gap per rate of change
	TermDensity         // mm per unit of density ratio
	TermFriction        // mm: half the difference between rising and falling
)

// Signature fits, minute by minute, the gap of a pair to level, rate of
// change, density and direction of movement, and forgets within a day or so.
// A term counts only while it is excited. The zero value is ready.
type Signature struct {
	M    regression.Moments
	Late Late

	At, Before     int64 // of the newest two minutes
	Gap, Level     float64
	Ratio          float64
	LevelBefore    float64
	Peak, Valley   float64 // since the direction last turned
	Up             bool
	Turned         bool    // the direction is known
	TurnedAt       int64   // when it last turned
	Quick          int64   // until when it turns too often for what is behind to be told
	Plainly        uint8   // solutions in a row with friction a sound follower never has
	Trails         uint8   // solutions in a row with the first behind at the turns
	Turns          float64 // of the direction lately
	Skewed, Rubbed uint8   // solutions in a row with a skew, with friction
	SolvedAt       int64
	LateAt         int64 // newest change of the gap the delay was judged with

	Skew, SkewU         float64 // s
	Friction, FrictionU float64 // mm, beyond the usual play
	Density, DensityU   float64 // mm per unit of density ratio
	HasSkew, HasRub     bool
	HasDensity          bool
	Clip                float64 // mm, largest gap that counts whole, set by the caller
	Largest             float64 // s, skew that may be learned as usual, set by the caller
	Allows              float64 // mm, gap the user allows for, 0: none stated, set by the caller
	Steps               bool    // a device of the pair sends only changes, set by the caller
	Began               int64
	UsualSkew           float64 // s, learned
	UsualU              float64 // s, of UsualSkew where the user allows for a gap
	UsualKnown          bool
	Assumed             bool // nothing moved while it could be learned: taken as none
}

// Signature constants.
const (
	signatureMemory = 86400.0 // s
	rateUnit        = 0.1     // mm/s that makes the regressor one
	ratioUnit       = 0.05
	turnBack        = 10.0 // mm against the direction that turn it
	effective       = 6.0  // minutes that count as one independent value
	solveEvery      = 3600
	healthySkew     = 10.0 // s, from what is usual
	leastSkew       = 5.0  // s, from none
	lateShare       = 0.03 // of the changes of a gap a delay must explain
	healthyRub      = 1.5  // mm, beyond the play of a sound follower
	steppingRub     = 2.0  // the same where a device sends only changes: its dead band is play too
	rubPlainly      = 1.0  // mm beyond that play, never seen of a sound follower
	learnSkewU      = 10.0 // s, uncertainty of a skew that is learned as usual
	learnCoarseU    = 40.0 // the same of a skew several times that: signals polled minutes apart
	sigmaLeast      = 2.0  // mm
	quickTurn       = 900  // s from one turn to the next: a swing of half an hour, or noise, which four marks cannot follow
	quickLasts      = 1800 // s that says so
	wellDelay       = 300  // s, of a well that damps waves as one should (common practice, no source)
	fastest         = 2.0  // times the usual speed of a level that moves
	turnsLeast      = 5.0  // turns within the memory that make friction believable
)

var signatureLeast = [regression.Terms]float64{
	TermZero:     60,
	TermSpan:     60 * 0.04,
	TermSkew:     12, // rms of 1.3 mm/min over a day, or 20 minutes at 6 mm/min
	TermDensity:  60 * 0.04,
	TermFriction: 120,
}

// Add folds the gap of one minute less what is normal, the level and the
// density ratio. It reports whether a new solution was made.
func (s *Signature) Add(at int64, gap, level, halfSpan, ratio float64) bool {
	defer func() {
		s.Before, s.LevelBefore = s.At, s.Level
		s.At, s.Gap, s.Level, s.Ratio = at, gap, level, ratio
	}()
	s.turn(at, level)
	s.Late.Quick = at < s.Quick
	s.Late.Add(at, gap, level, ratio, s.Clip/3)
	if s.Before == 0 || at-s.At > 900 || s.At-s.Before > 900 || !s.Turned {
		return false
	}
	v := (level - s.LevelBefore) / float64(at-s.Before) // about s.At
	var u [regression.Terms]float64
	u[TermZero], u[TermSpan], u[TermSkew] = 1, s.Level/halfSpan-1, v/rateUnit
	u[TermDensity] = s.Ratio / ratioUnit
	u[TermFriction] = -1
	if s.Up {
		u[TermFriction] = 1
	}
	keep := math.Exp(-float64(at-s.At) / signatureMemory)
	w := 1 / (1 + math.Pow(10*v/3, 2))
	s.Turns *= keep
	s.M.Add(keep, w, &u, math.Max(-s.Clip, math.Min(s.Clip, s.Gap)))
	if s.Began == 0 {
		s.Began = at
	}
	if at-s.SolvedAt < solveEvery {
		return false
	}
	s.SolvedAt = at
	s.solve()
	s.late()
	if (!s.UsualKnown || s.Assumed) && at-s.Began >= LearnSeconds {
		s.learn()
	}
	return true
}

// turn keeps the direction of movement: it turns when the level comes back
// from its extreme by more than noise. In a well the waves of a slow tide turn it
// often, and a float would seem to rub at every one.
func (s *Signature) turn(at int64, level float64) {
	if s.At == 0 {
		s.Peak, s.Valley = level, level
		return
	}
	s.Peak, s.Valley = math.Max(s.Peak, level), math.Min(s.Valley, level)
	switch {
	case level < s.Peak-turnBack && (s.Up || !s.Turned):
		s.Up, s.Turned, s.Valley = false, true, level
	case level > s.Valley+turnBack && (!s.Up || !s.Turned):
		s.Up, s.Turned, s.Peak = true, true, level
	default:
		return
	}
	s.Turns++
	if s.Allows > 0 && at-s.TurnedAt < quickTurn {
		s.Quick = at + quickLasts
	}
	s.TurnedAt = at
}

func (s *Signature) solve() {
	sol := s.M.Solve(&signatureLeast)
	sigma := math.Max(sigmaLeast, sol.Sigma) * math.Sqrt(effective)
	u := func(term int) float64 { return sigma / math.Sqrt(math.Max(sol.I[term], 1e-9)) }
	s.HasDensity = sol.Excited[TermDensity]
	s.Density, s.DensityU = sol.B[TermDensity]/ratioUnit, u(TermDensity)/ratioUnit
}

// late renews the delay and the friction. A delay stands out when it differs
// both from none and from what is usual by more than clocks and filters of a
// healthy pair do; friction when it is more than the play of a sound follower.
// Each feigns a little of the other: the one that explains more counts.
func (s *Signature) late() {
	if s.Late.At == s.LateAt {
		return // nothing moved since: nothing new is known
	}
	s.LateAt = s.Late.At
	skew, behind := s.Late.Solve(lateDays)
	skews := s.skewed(skew)
	for _, w := range [...]int{lateFast, lateSlow} {
		if skews {
			break
		}
		if other, _ := s.Late.Solve(w); s.skewed(other) {
			skew, skews = other, true
		}
	}
	s.Skew, s.SkewU, s.HasSkew = skew.Value, skew.U, skew.OK
	_, half := s.Late.Solve(lateFast)
	if half.surely() > math.Max(behind.surely(), s.play()) {
		behind = half // a float that begins to rub shows it within hours
	}
	s.Friction, s.FrictionU, s.HasRub = -behind.Value, behind.U, behind.OK
	rubs := s.HasRub && s.Turns >= turnsLeast && behind.surely() > s.play()
	s.Rubbed = count(s.Rubbed, rubs && behind.Share > lateShare && (!skews || behind.Share > skew.Share))
	s.Plainly = count(s.Plainly, s.Rubbed > 0 && behind.surely() > s.play()+rubPlainly)
	s.Trails = count(s.Trails, s.Turns >= turnsLeast && (trails(behind) || trails(half)))
	s.Skewed = count(s.Skewed, skews && skew.Share > lateShare && (!rubs || skew.Share > behind.Share))
}

// trails reports whether the first of a pair is behind at all, with less than
// it takes to call that friction.
func trails(e Estimate) bool { return e.Value > 0 && e.surely() > 0 && e.Share > lateShare }

// play is what a sound follower stays behind at most, mm.
func (s *Signature) play() float64 {
	if s.Steps {
		return steppingRub
	}
	return healthyRub
}

// skewed reports whether the delay one window shows is surely one, and surely
// farther from what is usual than clocks and filters of a healthy pair go.
func (s *Signature) skewed(e Estimate) bool {
	return e.OK && math.Abs(e.Value)-3*e.U > leastSkew && math.Abs(e.Value-s.UsualSkew)-3*math.Hypot(e.U, s.UsualU) > s.healthy()
}

// healthy is how far from what is usual the delay of a healthy pair goes, s. That
// of a well goes with the swing: one much slower than the well is behind by all of
// it, a quick one by little. A user who allows for a gap allows for that.
func (s *Signature) healthy() float64 {
	most := math.Max(healthySkew, 0.5*math.Abs(s.UsualSkew))
	if speed := s.Late.speed(); s.Allows > 0 && speed > 0 {
		most = math.Max(most, math.Min(wellDelay, s.Allows/(fastest*speed)))
	}
	return most
}

// Shows returns the smallest change of the delay that would stand out now, s;
// ok is false while the level has moved too little to tell any.
func (s *Signature) Shows() (seconds float64, ok bool) {
	best := s.Late.best()
	return s.healthy() + 3*best.U, best.OK
}

// explains is the share of the variance beside the other terms that one term
// accounts for. Where the gap is full of something else, a small term proves
// nothing.
func explains(b, information, sigma, n float64) float64 {
	own := b * b * information
	return own / (own + n*sigma*sigma + 1e-12)
}

func count(n uint8, yes bool) uint8 {
	if !yes {
		return 0
	}
	if n < math.MaxUint8 {
		n++
	}
	return n
}

// learn takes the present skew as usual, at the end of commissioning, by the
// window that knows it best. Where nothing moved until then none is assumed; a well
// then shows its own once it moves.
func (s *Signature) learn() {
	best := s.Late.best()
	told := best.OK && (best.U < learnSkewU || best.U < learnCoarseU && math.Abs(best.Value) > 4*best.U)
	switch {
	case s.Assumed && (!told || s.Allows == 0 || math.Abs(best.Value) > wellDelay):
		return
	case told:
		s.UsualSkew, s.UsualU, s.Assumed = math.Max(-s.Largest, math.Min(s.Largest, best.Value)), 0, false
		if s.Allows > 0 {
			s.UsualU = best.U
		}
	case s.At-s.Began < 2*LearnSeconds:
		return // not excited yet: wait
	default:
		s.Assumed = true
	}
	s.UsualKnown, s.Skewed = true, 0
}

// Apart is how far apart in time the two readings of the pair seem to be, s.
func (s *Signature) Apart() float64 {
	if !s.HasSkew {
		return 0
	}
	return math.Min(math.Abs(s.Skew), HeldAfter)
}

// Rebase drops what depends on the gap that is normal, after a new baseline.
// Delay and friction show in changes alone and are kept.
func (s *Signature) Rebase() {
	late, at := s.Late, s.LateAt
	s.Forget()
	late.Times = [2]int64{} // the gap of the newest minutes was counted from elsewhere
	s.Late, s.LateAt = late, at
}

// Forget drops the sums, after maintenance or when what is normal changed.
func (s *Signature) Forget() {
	*s = Signature{UsualSkew: s.UsualSkew, UsualU: s.UsualU, UsualKnown: s.UsualKnown, Assumed: s.Assumed, Began: s.Began}
}
