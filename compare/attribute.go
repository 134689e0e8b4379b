package compare

import (
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// weigh decides what an episode is about: it weighs the bank of causes with
// the evidence of the moment and writes the finding.
func (g *Gauge) weigh(at int64, st *State, e *Episode) {
	e.Weighed = at
	before := e.Finding
	switch e.Group {
	case Levels:
		g.attribute(at, st, e)
	case Contact:
		if e.Index == everyPoint {
			g.blameBracket(st, e)
		} else {
			g.blamePoint(at, st, e)
		}
	case Absence:
		g.blameSignal(st, e)
	case Scatter:
		g.blameScatter(at, st, e)
	case Service:
		f := &e.Finding
		f.Cause, f.Suspect, f.Tag = cause.OutsideDataSheet, cause.Service, g.sheet.Tag
		f.Alone()
	}
	g.describe(at, st, e)
	if before.Sentence != "" {
		st.renamed(at, e, &before)
	}
}

// renamed reports another name: the first one as an upgrade, a change of mind
// as a revision, at most once an hour.
func (st *State) renamed(at int64, e *Episode, before *cause.Finding) {
	f := &e.Finding
	if f.Cause == before.Cause && f.Suspect == before.Suspect {
		return
	}
	f.Changed = unix(at)
	first := e.Revised == 0 && (before.Suspect == cause.Undecided || before.Cause == cause.Unknown && f.Suspect == before.Suspect)
	switch {
	case first:
		st.upgrade(e)
	case at-e.Revised >= 3600:
		e.Revised = at
		st.revised = append(st.revised, *f)
	}
}

// attribute ranks the bank for a contradiction of levels and names the
// finding.
func (g *Gauge) attribute(at int64, st *State, e *Episode) {
	l, parted := g.ledger(at, st, e)
	e.Finding.More = false
	if g.twoFaults(at, st, e, l, parted) {
		return
	}
	ranked := l.Rank()
	set := cause.Remaining(ranked)
	f := &e.Finding
	f.Evidence, f.Set = l.Lines, set
	c, by, tag := cause.Name(ranked)
	g.rename(at, e, Name{c, by, tag}, ranked)
	f.Hold(ranked)
	if f.FloatOrFollower() {
		f.Tag = set[0].Tag
	}
	e.Channels = blames(l.Bank, f.Set, e.Channels)
	e.Finding.Symptom = refined(f.Symptom, f.Cause)
	f.RatePerD = 0
	for _, p := range g.pairs {
		if d := &st.Drifts[p]; d.Yes > 0 && e.concerns(p) && abs(d.Rate) > abs(mm(f.RatePerD)) {
			f.RatePerD = length(d.Rate)
		}
	}
}

// refined says what kind of gap it is once its cause is known.
func refined(k symptom.Kind, c cause.Cause) symptom.Kind {
	if !gapKind(k) {
		return k
	}
	switch c {
	case cause.TransmitterZero, cause.FollowerShifted, cause.LegPartlyFilled, cause.LegEmpty:
		return symptom.GapStep
	case cause.TransmitterDrift, cause.FloatHeavier:
		return symptom.GapDrift
	case cause.TransmitterSpan:
		return symptom.SpanError
	case cause.DensityWrong, cause.UpperDensityWrong:
		return symptom.DensityFollows
	}
	return k
}

// gapKind reports whether a symptom is about the size of a gap.
func gapKind(k symptom.Kind) bool {
	switch k {
	case symptom.GapBeyondBudget, symptom.GapStep, symptom.GapDrift, symptom.SpanError, symptom.DensityFollows:
		return true
	}
	return false
}

// A name is given at odds of Decisive and taken back by its odds smoothed over the
// newest weighings: what speaks for it comes and goes with the level, and a name
// that goes with it says nothing to a technician. Another name that leads takes its
// place after two weighings.
const (
	standingSmooth = 1.0 / 6 // of the newest weighing
	causeLeast     = 4       // weighings in a row that find another cause of the same instrument
)

// standsAt is down to which odds a name stands, nats: four to one, or even on a
// well, whose levels part and agree again with every tide.
func (g *Gauge) standsAt() float64 {
	if g.sheet.Limits.Gap > 0 {
		return 0
	}
	return math.Log(4)
}

// rename gives the episode the name the newest weighing wishes: at once where
// there was none, after two weighings in a row where it is another, and back to
// none when the old one does not stand any more.
func (g *Gauge) rename(at int64, e *Episode, wish Name, ranked []cause.Ranked) {
	f := &e.Finding
	e.wish(at, wish)
	if f.Suspect == cause.Undecided {
		f.Cause, f.Suspect, f.Tag = wish.Cause, wish.Suspect, wish.Tag
		e.Standing = cause.Decisive
		return
	}
	e.stand(cause.Share(ranked, f.Suspect, f.Tag))
	steady := e.Wished >= 2
	switch {
	case wish.Suspect == f.Suspect && wish.Tag == f.Tag:
		settled := e.Wished >= causeLeast
		if wish.Cause != cause.Unknown && (f.Cause == cause.Unknown || settled) || settled && !cause.Stands(ranked, f.Cause, f.Tag) {
			f.Cause = wish.Cause
		}
	case steady && (wish.Suspect != cause.Undecided || e.Standing < g.standsAt()):
		f.Cause, f.Suspect, f.Tag = wish.Cause, wish.Suspect, wish.Tag
		e.Standing = cause.Decisive
	}
}

// stand takes one more weighing into the odds of the name: the probability of all
// causes of its instrument.
func (e *Episode) stand(p float64) {
	odds := math.Log(p / math.Max(1-p, 1e-9))
	odds = math.Max(-cause.Decisive, math.Min(cause.Decisive, odds))
	e.Standing += standingSmooth * (odds - e.Standing)
}

// waysLeast is how many weighings in a row must find more than one thing wrong
// before a single name gives way: levels that move to and fro part and agree
// again with it.
const waysLeast = 6

// A well follows a tide and the weather of a day: what parts its levels beside a
// fault comes and goes with both, so that weighings within one tide are one.
const wellWays = 13 * hour

// givesWay reports whether a name that was given, or none, makes room for what is
// wished.
func (g *Gauge) givesWay(at int64, e *Episode) bool {
	f := &e.Finding
	none := f.Suspect == cause.Undecided && !f.FloatOrFollower()
	if g.sheet.Limits.Gap > 0 {
		return e.Wished >= waysLeast && (none || at-e.WishedAt >= wellWays)
	}
	return none || e.Wished >= waysLeast
}

// wish counts for how many weighings in a row the same name is wished for.
func (e *Episode) wish(at int64, name Name) {
	if name != e.Wish {
		e.Wish, e.Wished, e.WishedAt = name, 0, at
	}
	e.Wished++
}

// blames returns the channels of the causes that remain.
func blames(bank []cause.Hypothesis, set []cause.Ranked, before uint8) (mask uint8) {
	for _, r := range set {
		for i := range bank {
			if h := &bank[i]; h.Cause == r.Cause && h.Tag == r.Tag && h.Cause != cause.Unknown && h.Cause != cause.TimeSkew {
				mask |= bit(h.Channel)
			}
		}
	}
	if mask == 0 {
		return before
	}
	return mask
}

// ledger enters all evidence there is at time at about the levels.
func (g *Gauge) ledger(at int64, st *State, e *Episode) (*cause.Ledger, *parting) {
	l := cause.NewLedger(g.suspectsOf(st))
	g.noisyEvidence(at, st, l)
	clocks := g.clocks(at, st, e)
	e.Hours = clocks.any()
	g.moveEvidence(at, st, e, l, &clocks)
	g.clockEvidence(at, st, e, l, &clocks)
	g.limitEvidence(at, st, l)
	parted := g.shapeEvidence(at, st, e, l, &clocks)
	if parted == nil {
		g.pairEvidence(at, st, l)
	}
	g.pointEvidence(at, st, l)
	g.signatureEvidence(at, st, l)
	g.slowEvidence(at, st, e, l)
	g.fillEvidence(at, st, e, l)
	return l, parted
}
