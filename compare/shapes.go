package compare

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// Window of marks the form of a disagreement is judged on.
const (
	hoursSpan   = 48 * 3600   // longest window of ten-minute marks
	creepSpan   = 28 * 86400  // window of a slow change
	monthsSpan  = 100 * 86400 // longest window of four-hour marks
	beforeLeast = 2 * 3600    // healthy time before the onset that is looked at too
	marksLeast  = 5           // marks the form is judged on
	newestLeast = 72          // marks the newest form is judged on by themselves
	marksAfter  = 4           // of them after the onset
	shapeCap    = 15.0        // nats by which the form may speak for or against one hypothesis
)

// hoursPerMark is the number of independent marks a ten-minute mark counts for.
// monthsPerMark is the same of a four-hour mark.
const (
	hoursPerMark  = 1.0 / 6
	monthsPerMark = 0.5
)

// densityPrior is how far a density is off when it is wrong, as a standard
// deviation of the relative error (common practice, no source).
const densityPrior = 0.12

// temper discounts the likelihoods of the forms: real errors are never quite
// of one form. earlyCap bounds them while there are only two voices and the
// disagreement is young.
const (
	temper   = 0.7
	earlyCap = 2.5
)

// parting is how the levels parted, with the forms that were fitted to it.
type parting struct {
	problem  *shape.Problem
	solution shape.Solution
	line     int // of the ledger
}

// shapeEvidence enters which form of which instrument's error explains how
// the levels parted. It returns nil while there are too few marks.
func (g *Gauge) shapeEvidence(at int64, st *State, e *Episode, l *cause.Ledger, c *clocks) *parting {
	p, ok := g.problem(at, st, e)
	if !ok {
		return nil
	}
	s := p.Solve()
	if s.Marks >= marksLeast && (s.Strained() || s.Coarse && (s.Voices > 2 && e.moves() || c.any())) {
		g.newest(at, st, p, &s)
	}
	if s.Marks < marksLeast {
		return nil
	}
	best := math.Inf(-1)
	scores := make([]float64, len(l.Bank))
	for i := range l.Bank {
		scores[i] = temper * g.score(st, &l.Bank[i], &s)
		best = math.Max(best, scores[i])
	}
	lead := math.Max(-shapeCap, math.Min(shapeCap, best-temper*math.Max(s.Unknown, s.Healthy)))
	floor := -2 * shapeCap
	if s.Voices < 3 && at-e.Finding.Since.Unix() < day {
		floor = -earlyCap // two voices do not decide in a day by the form of a gap
	}
	line := cause.Evidence{From: unix(s.From), To: unix(s.To), Excitation: fmt.Sprintf("%d marks of %s", s.Marks, span(p.Step)),
		Sentence: g.explains(&s, p.Channels), Numbers: map[string]float64{"healthy_nats": s.Healthy, "unknown_nats": s.Unknown, "best_nats": best}}
	i := 0
	l.Add(line, func(h *cause.Hypothesis) float64 {
		least := floor
		if h.Channel < symptom.Channels && !s.Took(h.Channel) {
			least = -2 * shapeCap // what is silent did not part
		}
		w := lead + math.Max(scores[i]-best, least)
		i++
		if h.Cause == cause.Unknown {
			return 0
		}
		return w
	})
	if s.Strained() || s.Voices > 2 {
		p.Marks = slices.Clone(p.Marks) // they are looked at again, and st.marks is used again before
	}
	return &parting{p, s, len(l.Lines) - 1}
}

// problem gathers the marks of the channels that may be judged: those that
// have values and are not blamed by another finding that has a name.
func (g *Gauge) problem(at int64, st *State, e *Episode) (*shape.Problem, bool) {
	onset := e.Finding.Since.Unix()
	if at-onset < marksAfter*600 {
		return nil, false
	}
	from := onset - max(beforeLeast, 2*(at-onset))
	if g.creeps(st, e) {
		from = min(from, at-creepSpan)
	}
	trace, p := &st.Hours, &shape.Problem{Top: g.scale.Top, PerMark: hoursPerMark, Step: 600, Onset: onset}
	if at-from > hoursSpan {
		if at-onset < hoursSpan*3/4 && !g.creeps(st, e) {
			from = at - hoursSpan
		} else {
			trace, p.PerMark, p.Step = &st.Months, monthsPerMark, 4*3600
			from = max(from, at-monthsSpan)
		}
	}
	st.marks = trace.Since(from, st.marks)
	p.Marks = st.marks
	elsewhere := st.blamedElsewhere(e)
	var all []symptom.Channel
	for c := range symptom.Channels {
		if g.has(c) && filled(p.Marks, c) {
			all = append(all, c)
			if elsewhere&bit(c) == 0 {
				p.Channels = append(p.Channels, c)
			}
		}
	}
	if len(p.Channels) < 3 { // two alone cannot say which of them it is
		p.Channels = all
	}
	if len(p.Channels) < 2 {
		return nil, false
	}
	g.normalise(st, p)
	if g.sheet.Fluid.Upper != nil {
		p.Above = st.Above
	}
	return p, true
}

// newest solves the last weeks, or the last two days, by themselves where they
// make sense and the whole does not: a float that hung and came free elsewhere
// is shifted now, and one that moves in jumps does so within hours.
func (g *Gauge) newest(at int64, st *State, p *shape.Problem, s *shape.Solution) {
	for _, span := range [...]int64{creepSpan, hoursSpan} {
		from, trace, q := at-span, &st.Months, *p
		q.PerMark, q.Onset = monthsPerMark, max(p.Onset, from)
		if span == hoursSpan {
			trace, q.PerMark, q.Onset = &st.Hours, hoursPerMark, max(p.Onset, from)
		}
		if from <= p.Onset && (span != hoursSpan || p.Step == trace.Step) || span == creepSpan && !s.Strained() {
			continue
		}
		st.marks = trace.Since(from, st.marks)
		q.Marks, q.Step = st.marks, trace.Step
		if now := q.Solve(); now.Marks >= newestLeast && !now.Strained() {
			*p, *s = q, now
			return
		}
	}
}

// moves reports whether the episode is about how something moves, which only
// short marks show.
func (e *Episode) moves() bool {
	for _, k := range e.Kinds {
		switch k {
		case symptom.FloatStill, symptom.TransmitterFrozen, symptom.StickSlip, symptom.TimeSkew, symptom.ChamberLag, symptom.ChamberDead, symptom.ChamberGain:
			return true
		}
	}
	return false
}

// creeps reports whether a pair of the episode has a trend that makes up a good
// part of its change: its form shows only over weeks.
func (g *Gauge) creeps(st *State, e *Episode) bool {
	for _, p := range g.pairs {
		a, b := symptom.Members(p)
		d := &st.Drifts[p]
		if e.Channels&(bit(a)|bit(b)) != 0 && d.Days > 0 && abs(d.Change) > 2 && abs(d.Score) > 1.5 && abs(d.Change) > 0.4*abs(st.Gaps[p].Last) {
			return true
		}
	}
	return false
}

// blamedElsewhere returns the channels other named alerts already blame. Where
// every pair the episode is about has one of them nothing is left to look at,
// and they take part.
func (st *State) blamedElsewhere(e *Episode) (mask uint8) {
	for i := range st.Episodes {
		if o := &st.Episodes[i]; o.Finding.ID != e.Finding.ID && o.Group == Levels && o.named() {
			mask |= o.Channels
		}
	}
	for _, k := range e.Keys {
		if k.Pair >= gauge.Pairs {
			continue
		}
		if a, b := symptom.Members(k.Pair); mask&(bit(a)|bit(b)) == 0 {
			return mask
		}
	}
	return 0
}

// filled reports whether a channel has a value in most of the marks.
func filled(marks []symptom.Mark, c symptom.Channel) bool {
	n := 0
	for i := range marks {
		if !math.IsNaN(float64(marks[i].Level[c])) {
			n++
		}
	}
	return n >= marksLeast && 2*n >= len(marks)
}

// normalise gives every channel its baseline against the reference channel
// and the spread of a healthy mark.
func (g *Gauge) normalise(st *State, p *shape.Problem) {
	ref := symptom.TransmitterLevel
	if !g.has(ref) {
		ref = symptom.FloatLevel
	}
	known := true
	for _, c := range p.Channels {
		p.Sigma[c] = math.Max([...]float64{2.5, 2.5, 2.5, 3.5}[c], g.scatterOf(st, c)/math.Sqrt2)
		if st.Loud&bit(c) != 0 {
			p.Sigma[c] = math.Hypot(p.Sigma[c], st.Noisy[c].Of(float64(p.Step)))
		}
		if c == ref {
			continue
		}
		pair := pairOf(c, ref)
		if pair == gauge.Pairs || !st.Base[pair].Known {
			known = false
			continue
		}
		sign := 1.0
		if first, _ := symptom.Members(pair); first != c {
			sign = -1
		}
		p.Offset[c], p.Slope[c] = sign*st.Base[pair].Offset, sign*st.Base[pair].Slope
		if usual := st.Sign[pair].UsualSkew; st.Sign[pair].UsualKnown {
			p.Lead[c] = sign * usual
			p.Clock = math.Max(p.Clock, abs(usual)/3) // polled that far apart it is not the same every time
		}
	}
	if known {
		return
	}
	for _, c := range p.Channels {
		p.Sigma[c] = math.Hypot(p.Sigma[c], st.Steady[c])
	}
}

// scatterOf is the least scatter the learned gaps of a channel show, mm: what
// real waves, waits and filters leave on it.
func (g *Gauge) scatterOf(st *State, c symptom.Channel) float64 {
	least := math.Inf(1)
	for _, p := range g.pairs {
		if a, b := symptom.Members(p); a == c || b == c {
			least = math.Min(least, st.Base[p].Scatter())
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// explains says in words which error fits best and who agrees without it.
func (g *Gauge) explains(s *shape.Solution, channels []symptom.Channel) string {
	bestC, bestF := channels[0], shape.Constant
	for _, c := range channels {
		for f := range shape.Forms {
			if f != shape.Free && s.Fits[c][f].Nats > s.Fits[bestC][bestF].Nats {
				bestC, bestF = c, f
			}
		}
	}
	text := fmt.Sprintf("The levels part as if %s were wrong: %s", lower(g.name(bestC)), bestF)
	if bestF >= shape.Lagging {
		text = fmt.Sprintf("The levels part as if the %s", bestF)
	}
	if len(channels) > 2 {
		text += fmt.Sprintf("; without it the others agree within %.0f mm", math.Max(1, s.Outside[bestC]))
	}
	return text + "."
}
