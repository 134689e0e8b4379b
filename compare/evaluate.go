package compare

import (
	"math"
	"slices"
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/symptom"
)

// Evaluate folds one scan into st and says what the instruments of the gauge
// say now. It is deterministic and does not allocate while nothing changes;
// sentences are written when something changed, and once a minute. The slices
// of the result belong to st and are valid until its next evaluation.
func (g *Gauge) Evaluate(now time.Time, in *gauge.Snapshot, st *State) Result {
	var r Result
	g.EvaluateTo(now, in, st, &r)
	return r
}

// EvaluateTo is Evaluate into a result that is used again and again. r is
// overwritten whole.
func (g *Gauge) EvaluateTo(now time.Time, in *gauge.Snapshot, st *State, r *Result) {
	st.physics.Rate = 1e-3 * st.Movement.Velocity(now.Unix())
	g.model.MeasureNext(in, &st.physics, &r.Measurement)
	g.fold(now, in, st, r)
}

// KeepConditions has the state remember the conditions of many scans, not only
// of the last: see gauge.Memory.
func (st *State) KeepConditions() { st.physics.KeepMany() }

// fold is Evaluate after the physics.
func (g *Gauge) fold(now time.Time, in *gauge.Snapshot, st *State, r *Result) {
	m, at := &r.Measurement, now.Unix()
	r.Gauge, r.Time = g.sheet.Tag, now
	st.opened, st.upgraded, st.revised, st.closed = st.opened[:0], st.upgraded[:0], st.revised[:0], st.closed[:0]
	if st.Began == 0 {
		st.Began = at
	}
	if at >= st.Last {
		g.scan(at, in, m, st)
	}
	g.judgePairs(st, m)
	st.write(g, now)
	r.Verdicts, r.Findings, r.Category = st.verdicts, st.open, st.category
	r.Headline, r.Next = st.headline, st.next
	r.Opened, r.Upgraded, r.Revised, r.Closed = st.opened, st.upgraded, st.revised, st.closed
	r.Changed = st.changed()
}

// scan feeds the detectors. A scan older than the last one is not folded: the
// clock of the source went back, and time must not run twice.
func (g *Gauge) scan(at int64, in *gauge.Snapshot, m *gauge.Measurement, st *State) {
	st.isolation(at, m.Isolated || st.ByRecord)
	st.Last = at
	st.Presence.Add(at, g.signals, in, m, g.top)
	if st.Isolated {
		return
	}
	g.switches(at, m, st)
	if !st.Minute.Add(at, in, m, &st.block) {
		return
	}
	g.minute(&st.block, m, st)
	g.slowly(at, st)
	g.attend(at, st)
}

// minute feeds what works on finished minutes.
func (g *Gauge) minute(b *symptom.Block, m *gauge.Measurement, st *State) {
	if g.reassumed(b.At, st) {
		st.Movement.Break()
	}
	st.Movement.Add(&g.scale, b)
	g.prove(m, st)
	g.keep(b, m, st)
	g.listen(b, st)
	speed, suspects, assumed := st.Movement.Speed(b.At), st.suspects(), g.assumes(st)
	st.Guessed *= forgetGuessed
	if assumed {
		st.Guessed++
	}
	for _, p := range g.pairs {
		if !b.HasGap[p] {
			continue
		}
		first, second := symptom.Members(p)
		noisy := st.Loud&(bit(first)|bit(second)) != 0
		level := g.halfSpans(b, p)
		g.allow(p, m, st, assumed)
		t := g.tolerance(p, level, st, assumed)
		t.Loud, t.Again = st.loudness(p), st.again(b.At, first, second)
		mean, finished := st.Gaps[p].Add(t, b.At, b.Gap[p], speed, b.Skew[p]+st.Sign[p].Apart())
		if assumed {
			continue // nothing is learned, and no dependence judged, from assumed conditions
		}
		if !noisy {
			g.sign(b, p, level, st)
		}
		st.Noise[p].Add(b.At, b.Jitter[p], b.Steps[p], (level+1)*g.scale.Top/2, math.Max(scatterTravel, g.pitchOf(p)))
		if expected, ok := st.Base[p].Expected(level); ok && finished && first != symptom.VesselLevel {
			st.Gaps[p].Jump.Add(b.At, mean-expected, (level+1)*g.scale.Top/2, g.jumps(p, st))
		}
		healthy := suspects&(bit(first)|bit(second)) == 0 && !noisy && !st.Gaps[p].Watched(b.At) && speed*600 < learnTravel
		if !finished || !healthy {
			continue
		}
		before, _ := st.Base[p].Expected(level)
		if st.Base[p].Add(b.At, mean, level, st.Allow[p].Budget, &st.Allow[p].Parts) {
			jump := st.Gaps[p].Jump.Beside(before - st.Base[p].Normal(level))
			st.Gaps[p].Reset()
			st.Gaps[p].Jump = jump // it began before the baseline was known
			st.Sign[p].Rebase()
		}
	}
}

// sign feeds the signature of a pair. The level that moves is the one of the
// chamber, or of the vessel where the chamber is what may lag.
func (g *Gauge) sign(b *symptom.Block, p gauge.Pair, halfSpans float64, st *State) {
	first, second := symptom.Members(p)
	if b.Bound[first] || b.Bound[second] {
		return // a level beyond a tap goes on where nobody sees it
	}
	half := g.scale.Top / 2
	gap := b.Gap[p] - st.Base[p].Normal(halfSpans)
	level := (halfSpans + 1) * half
	of := second
	if first == symptom.VesselLevel || !b.Has[second] {
		level, of = b.Level[first], first
	}
	st.Sign[p].Largest, st.Sign[p].Clip = usualSkew(first), clip(first)
	st.Sign[p].Steps = st.steps(p)
	if first != symptom.VesselLevel {
		st.Sign[p].Allows = mm(g.sheet.Limits.Gap)
	}
	st.Sign[p].Late.Both = g.foams(of)
	st.Sign[p].Add(b.At, gap, level, half, b.Ratio)
}

// steps reports whether a device of a pair sends only changes.
func (st *State) steps(p gauge.Pair) bool {
	first, second := symptom.Members(p)
	return st.Exception[first].Known() || st.Exception[second].Known()
}

// scatterTravel is how far the level must move within ten minutes for the
// scatter of a gap to be comparable, mm: a device that reports by exception is
// silent while nothing moves.
const scatterTravel = 5.0

// clip is the largest gap the signature of a pair counts whole, mm: echoes and
// foam are not to bend it, a chamber far behind its vessel is.
func clip(first symptom.Channel) float64 {
	if first == symptom.VesselLevel {
		return 200
	}
	return 40
}

// usualSkew is the largest skew of a pair that is learned as usual, s. Two
// signals may be polled minutes apart for good; a chamber that lags its vessel
// may not.
func usualSkew(first symptom.Channel) float64 {
	if first == symptom.VesselLevel {
		return 30
	}
	return 600
}

// forgetVaries is how much of the largest tolerance lately is kept a minute:
// half of it after a month.
const forgetVaries = 1 - 1.6e-5

// forgetGuessed is how much of the minutes with an assumed condition is kept a
// minute: those of the window of a trend.
const forgetGuessed = 1 - 1.0/(trendDays*1440)

// learnTravel is how far the level may move in ten minutes for its gap to be
// learned, mm: a fast level adds the skew of the clocks to the gap.
const learnTravel = 120.0

// suspects returns the channels open findings about the levels suspect: what
// they show now is not learned as normal.
func (st *State) suspects() (mask uint8) {
	for i := range st.Episodes {
		if e := &st.Episodes[i]; e.Group == Levels {
			mask |= e.Channels
		}
	}
	return mask
}

// halfSpans is the level of a pair in half-spans from the middle of the scale.
func (g *Gauge) halfSpans(b *symptom.Block, p gauge.Pair) float64 {
	x, y := symptom.Members(p)
	c := y
	if !b.Has[y] {
		c = x
	}
	return b.Level[c]/(g.scale.Top/2) - 1
}

// keep books the minute in the traces the causes are weighed with.
func (g *Gauge) keep(b *symptom.Block, m *gauge.Measurement, st *State) {
	st.Hours.Init(600, 7*144)
	st.Months.Init(4*3600, 120*6)
	if m.DensityOK && m.Liquid > 0 {
		st.DensityU = float64(m.LiquidModelU / m.Liquid)
	}
	var density [symptom.Channels]float64
	newest, any := 0.0, false
	for c := range symptom.Channels {
		l := levelOf(m, c)
		density[c] = 1e3 * l.Parts[level.LiquidDensity]
		if l.OK() {
			st.Steady[c] = steadyU(l)
			if g.sheet.Fluid.Upper != nil {
				st.Above[c].Add(mm(l.Value), 1e3*l.Parts[level.VapourDensity]) // what stands above the liquid
			}
		}
		if b.Has[c] && !any && (c != symptom.FloatLevel || len(g.pairs) == 0) {
			newest, any = b.Level[c], true
		}
	}
	if !any {
		newest, any = b.Level[symptom.FloatLevel], b.Has[symptom.FloatLevel]
	}
	if !any {
		return
	}
	ratio := math.NaN()
	if b.HasRatio {
		ratio = b.Ratio
	}
	st.Hours.Add(b.At, &b.Level, &density, &b.Has, ratio, newest)
	st.Months.Add(b.At, &b.Level, &density, &b.Has, ratio, newest)
}

// steadyU is the standard uncertainty of what stays constant in a level, mm.
func steadyU(l *level.Level) float64 {
	sum := 0.0
	for i, u := range l.Parts {
		if input := level.Input(i); input != level.Skew && input != level.TapElevation && !slices.Contains(varying[:], input) {
			sum += u * u
		}
	}
	return 1e3 * math.Sqrt(sum)
}

// prove books the moves two instruments made together and agreed about: one
// that followed and ended elsewhere was moved, not proven.
func (g *Gauge) prove(m *gauge.Measurement, st *State) {
	moves := st.Movement.Moves()
	for i := range moves {
		v := &moves[i]
		u := mm(pairU(levelOf(m, v.SubjectIs), levelOf(m, v.WitnessIs)))
		if v.Followed() && abs(v.Subject-v.Witness) <= 2*u {
			st.Proofs.Add(v, g.scale.Top, u)
		}
	}
}

// switches feeds the points with the position that works them: the magnet for
// those of the float, the surface for those with an element of their own.
func (g *Gauge) switches(at int64, m *gauge.Measurement, st *State) {
	shakes := st.shakes(symptom.FloatLevel)
	for i := range g.sheet.Points {
		t := &g.trips[i]
		position, ok := mm(m.Magnet), m.MagnetOK
		if !t.ByFloat || !g.has(symptom.FloatLevel) {
			l := surface(m)
			position, ok = mm(l.Value), l.OK()
		}
		ok = ok && (!t.ByFloat || !shakes) // a noisy follower does not say where the float is
		flat := t.ByFloat && at-st.Movement.Anchor[symptom.FloatLevel].Since >= stillLeast
		st.Points[i].Add(t, at, m.Points[i], position, ok, flat)
	}
}

// surface is the level a switch with an element of its own is compared with.
func surface(m *gauge.Measurement) *level.Level {
	if m.Float.OK() {
		return &m.Float
	}
	return &m.Transmitter
}

// isolation stops every test while the chamber is isolated and starts them
// afresh when it comes back.
func (st *State) isolation(at int64, isolated bool) {
	if st.Isolated && !isolated {
		st.Returned = at
		st.forget()
	}
	st.Isolated = isolated
}

// forget drops what was only evidence in the making: running sums and moves.
// Baselines, proofs and open episodes stay.
func (st *State) forget() {
	for p := range st.Gaps {
		st.Gaps[p].Reset()
		st.Sign[p].Forget()
	}
	for s := range st.Movement.Follow {
		for w := range st.Movement.Follow[s] {
			st.Movement.Follow[s][w] = symptom.Follow{}
		}
	}
	st.Minute = symptom.Compressor{}
}
