package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
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
		g.blamePoint(st, e)
	case Absence:
		g.blameSignal(st, e)
	case Scatter:
		g.blameScatter(st, e)
	case Service:
		f := &e.Finding
		f.Cause, f.Suspect, f.Tag = cause.OutsideDataSheet, cause.Service, g.sheet.Tag
		f.Set = []cause.Ranked{{Cause: f.Cause, Suspect: f.Suspect, Tag: f.Tag, Probability: 1}}
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
	first := before.Suspect == cause.Undecided || before.Cause == cause.Unknown && f.Suspect == before.Suspect
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
	l := g.ledger(at, st, e)
	ranked := l.Rank()
	set := cause.Remaining(ranked)
	f := &e.Finding
	f.Evidence, f.Set = l.Lines, set
	c, by, tag := cause.Name(ranked)
	e.rename(Name{c, by, tag}, ranked)
	e.Channels = blames(l.Bank, set, e.Channels)
	e.Finding.Symptom = refined(f.Symptom, f.Cause)
	f.RatePerD = 0
	for _, p := range g.pairs {
		a, b := symptom.Members(p)
		if d := &st.Drifts[p]; d.Yes > 0 && e.Channels&(bit(a)|bit(b)) != 0 && abs(d.Rate) > abs(mm(f.RatePerD)) {
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
	case cause.DensityWrong:
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

// rename gives the episode the name the newest weighing wishes: at once where
// there was none, after two weighings in a row where it is another, and never
// back to none while the old name still stands.
func (e *Episode) rename(wish Name, ranked []cause.Ranked) {
	f := &e.Finding
	if wish == e.Wish {
		e.Wished++
	} else {
		e.Wish, e.Wished = wish, 1
	}
	steady := e.Wished >= 2
	switch {
	case f.Suspect == cause.Undecided:
		f.Cause, f.Suspect, f.Tag = wish.Cause, wish.Suspect, wish.Tag
	case cause.Same(wish.Suspect, f.Suspect) && wish.Suspect != f.Suspect:
		if wish.Cause != cause.Unknown && (f.Cause == cause.Unknown || steady) {
			f.Cause, f.Suspect, f.Tag = wish.Cause, wish.Suspect, wish.Tag
		}
	case wish.Suspect == f.Suspect:
		if wish.Cause != cause.Unknown && (f.Cause == cause.Unknown || steady) || steady && !cause.Stands(ranked, f.Cause, f.Tag) {
			f.Cause, f.Tag = wish.Cause, wish.Tag
		}
	case wish.Suspect != cause.Undecided && steady && !cause.Stood(ranked, f.Suspect, 2*cause.Decisive), e.Wished >= 4 && !cause.Stood(ranked, f.Suspect, cause.Decisive):
		f.Cause, f.Suspect, f.Tag = wish.Cause, wish.Suspect, wish.Tag
	}
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
func (g *Gauge) ledger(at int64, st *State, e *Episode) *cause.Ledger {
	l := cause.NewLedger(g.bank)
	g.moveEvidence(at, st, l)
	g.limitEvidence(at, st, l)
	if !g.shapeEvidence(at, st, e, l) {
		g.pairEvidence(at, st, l)
	}
	g.pointEvidence(at, st, l)
	g.signatureEvidence(at, st, l)
	g.slowEvidence(at, st, l)
	return l
}

// signatureEvidence enters what the gaps go with.
func (g *Gauge) signatureEvidence(at int64, st *State, l *cause.Ledger) {
	for _, p := range g.pairs {
		s := &st.Sign[p]
		a, b := symptom.Members(p)
		pair := g.name(a) + " and " + lower(g.name(b))
		if st.Gaps[p].Sparse {
			continue
		}
		if s.Skewed >= skewWatch && (s.UsualKnown || a == symptom.VesselLevel) {
			w := math.Min(8, float64(s.Skewed))
			l.Add(cause.Evidence{From: unix(at - int64(s.Skewed)*3600), To: unix(at), Numbers: map[string]float64{"skew_s": s.Skew, "u_s": s.SkewU},
				Sentence: fmt.Sprintf("%s differ in proportion to the rate of change: %.0f s.", pair, abs(s.Skew))},
				func(h *cause.Hypothesis) float64 {
					switch {
					case h.Cause == cause.TimeSkew && a != symptom.VesselLevel, h.Cause == cause.LowerPlug && a == symptom.VesselLevel && g.allLate(st):
						return w
					}
					return 0
				})
		}
		if s.Rubbed >= skewWatch && a == symptom.FloatLevel {
			w := math.Min(8, float64(s.Rubbed))
			l.Add(cause.Evidence{From: unix(at - int64(s.Rubbed)*3600), To: unix(at), Numbers: map[string]float64{"friction_mm": s.Friction, "u_mm": s.FrictionU},
				Sentence: fmt.Sprintf("%s differ by %.0f mm between rising and falling, whatever the speed.", pair, 2*abs(s.Friction))},
				func(h *cause.Hypothesis) float64 {
					switch {
					case h.Cause == cause.FloatStickSlip && !g.smooth(st, a), h.Cause == cause.DisplacerDisturbed && h.Channel == b && !g.smooth(st, b):
						return w
					}
					return 0
				})
		}
		if s.HasDensity && abs(s.Density) > 5*s.DensityU && abs(s.Density)*ratioSwing > 3 && a == symptom.FloatLevel {
			l.Add(cause.Evidence{From: unix(at - 86400), To: unix(at), Numbers: map[string]float64{"mm_per_percent": s.Density / 100, "u": s.DensityU / 100},
				Sentence: fmt.Sprintf("%s differ with the density: %.1f mm per per cent.", pair, s.Density/100)},
				func(h *cause.Hypothesis) float64 {
					if h.Cause == cause.DensityWrong {
						return 3
					}
					return 0
				})
		}
	}
}

// smooth reports whether a channel shows no friction against another one that
// was put to the same test: then the friction is not its own.
func (g *Gauge) smooth(st *State, c symptom.Channel) bool {
	for _, p := range g.pairs {
		if a, b := symptom.Members(p); a == c || b == c {
			if s := &st.Sign[p]; s.HasRub && s.Turns >= skewWatch && abs(s.Friction) < 1.5 {
				return true
			}
		}
	}
	return false
}

// allLate reports whether every instrument of the chamber is late against the
// vessel: then it is the chamber, not one of them.
func (g *Gauge) allLate(st *State) bool {
	for _, p := range g.pairs {
		if a, _ := symptom.Members(p); a == symptom.VesselLevel && st.Sign[p].Skewed < skewWatch {
			return false
		}
	}
	return true
}

// ratioSwing is a usual swing of the density ratio.
const ratioSwing = 0.02

// unmoving reports whether a cause makes its instrument stand still.
func unmoving(c cause.Cause) bool {
	switch c {
	case cause.FloatStuck, cause.FloatPartlyStuck, cause.FloatOneWay, cause.FollowerDecoupled, cause.TransmitterFrozen, cause.LegPlugged:
		return true
	}
	return false
}

// rests reports whether a hypothesis makes its instrument stand still now: a
// sunk float rests at the bottom, a saturated transmitter at its limit.
func (st *State) rests(h *cause.Hypothesis) bool {
	switch h.Cause {
	case cause.FloatSunk:
		return st.Movement.Level[symptom.FloatLevel] < 40
	case cause.TransmitterLimit:
		return st.Presence.LimitSince[h.Channel] != 0
	}
	return unmoving(h.Cause)
}

func (g *Gauge) moveEvidence(at int64, st *State, l *cause.Ledger) {
	for subject := symptom.FloatLevel; subject <= symptom.SecondLevel; subject++ {
		if !g.has(subject) {
			continue
		}
		for witness := range symptom.Channels {
			if f := &st.Movement.Follow[subject][witness]; subject != witness && g.has(witness) && f.Set {
				g.followEvidence(at, st, l, subject, witness, f)
			}
		}
	}
}

func (g *Gauge) followEvidence(at int64, st *State, l *cause.Ledger, subject, witness symptom.Channel, f *symptom.Follow) {
	moves := float64(f.Still)
	if f.Still >= 2 {
		line := cause.Evidence{From: unix(f.Start), To: unix(at), Excitation: fmt.Sprintf("%d moves of %.0f mm", f.Still, g.scale.Size),
			Sentence: fmt.Sprintf("%s moved %.0f mm while %s stayed within %.0f mm.", g.name(witness), f.Travel, g.name(subject), math.Max(1, abs(f.Subject-f.StartX))),
			Numbers:  map[string]float64{"moves": moves, "travel_mm": f.Travel, "above_mm": f.Over, "below_mm": f.Under}}
		l.Add(line, func(h *cause.Hypothesis) float64 {
			switch {
			case h.Channel == subject && st.rests(h):
				return math.Min(2*moves, 8)
			case h.Channel == witness && h.Cause == cause.RadarDisturbed && f.Under < g.scale.Size && f.Over < foamRise:
				return math.Min(2*moves, 7)
			case h.Suspect == cause.Chamber && witness == symptom.VesselLevel && g.chamberStill(st):
				return math.Min(2*moves, 8)
			}
			return 0
		})
	}
	if f.Followed >= 3 {
		line := cause.Evidence{From: unix(f.Start), To: unix(at), Excitation: fmt.Sprintf("%d moves of %.0f mm", f.Followed, g.scale.Size),
			Sentence: fmt.Sprintf("%s followed the last %d moves of %s.", g.name(subject), f.Followed, g.name(witness))}
		l.Add(line, func(h *cause.Hypothesis) float64 {
			if h.Channel == subject && (unmoving(h.Cause) || h.Cause == cause.FloatSunk) && h.Cause != cause.FloatPartlyStuck && h.Cause != cause.FloatOneWay {
				return -8
			}
			if witness == symptom.VesselLevel && (h.Cause == cause.ChamberIsolated || h.Cause == cause.UpperPlug) {
				return -8
			}
			return 0
		})
	}
}

// chamberStill reports whether no instrument of the chamber follows the
// vessel: one that does clears the chamber.
func (g *Gauge) chamberStill(st *State) bool {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		if g.has(c) && st.Movement.Follow[c][symptom.VesselLevel].Still == 0 {
			return false
		}
	}
	return true
}

func (g *Gauge) limitEvidence(at int64, st *State, l *cause.Ledger) {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		since := st.Presence.LimitSince[c]
		if !g.has(c) || !st.Presence.AtLimit(c, at, 0) {
			continue
		}
		l.Add(cause.Evidence{From: unix(since), To: unix(at), Sentence: g.name(c) + " stands at the end of its range while the others see a level well inside."},
			func(h *cause.Hypothesis) float64 {
				if h.Channel == c && (h.Cause == cause.FloatSunk || h.Cause == cause.TransmitterLimit || h.Cause == cause.LegEmpty) {
					return 8
				}
				return 0
			})
	}
	if f := st.Movement.Level[symptom.FloatLevel]; g.has(symptom.FloatLevel) && f < 40 && g.above(st, symptom.FloatLevel) > 100 {
		l.Add(cause.Evidence{From: unix(st.Movement.Anchor[symptom.FloatLevel].Since), To: unix(at), Sentence: "Float is at the bottom of its travel while the others see liquid above it."},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.FloatSunk {
					return 8
				}
				return 0
			})
	}
}

// above returns how far the other channels stand above one, mm.
func (g *Gauge) above(st *State, c symptom.Channel) float64 {
	least := math.Inf(1)
	for o := range symptom.Channels {
		if o != c && g.has(o) && st.Movement.At[o] != 0 {
			least = math.Min(least, st.Movement.Level[o]-st.Movement.Level[c])
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// pairEvidence speaks for the instruments all pairs beyond budget have in
// common, and against those whose other pairs agree.
func (g *Gauge) pairEvidence(at int64, st *State, l *cause.Ledger) {
	any := false
	for _, p := range g.pairs {
		any = any || st.Gaps[p].Watched(at)
	}
	if !any {
		return
	}
	for _, p := range g.pairs {
		gap := &st.Gaps[p]
		a, b := symptom.Members(p)
		nats, sign, onset := gap.Evidence()
		switch {
		case gap.Watched(at):
			line := cause.Evidence{From: unix(onset), To: unix(at), Numbers: map[string]float64{"gap_mm": gap.Median.V[2], "nats": nats},
				Sentence: fmt.Sprintf("%s and %s differ by %+.0f mm, more than the budget.", g.name(a), g.name(b), sign*abs(gap.Median.V[2]))}
			l.Add(line, func(h *cause.Hypothesis) float64 { return 4 * concerns(h, a, b) })
		case gap.Seen&0x3f == 0x3f && nats < 1:
			line := cause.Evidence{From: unix(gap.LastAt - 3600), To: unix(at), Sentence: fmt.Sprintf("%s and %s agree within budget.", g.name(a), g.name(b))}
			l.Add(line, func(h *cause.Hypothesis) float64 { return -4 * math.Max(0, concerns(h, a, b)) })
		}
	}
}

// concerns is 1 when a hypothesis disturbs the pair, -1 when it cannot, 0
// when it says nothing.
func concerns(h *cause.Hypothesis, a, b symptom.Channel) float64 {
	switch {
	case h.Cause == cause.Unknown || h.Cause == cause.TimeSkew:
		return 0
	case h.Channel == a || h.Channel == b, h.Channel == symptom.Channels && a == symptom.VesselLevel:
		return 1
	}
	return -1
}

// blameScatter names the transmitter whose noise changed. More noise has many
// harmless reasons and stays a watch.
func (g *Gauge) blameScatter(st *State, e *Episode) {
	f, c := &e.Finding, symptom.Channel(e.Index)
	f.Cause, f.Suspect, f.Tag = cause.TransmitterQuiet, cause.Transmitter, g.tag(c)
	ratio, kind := 1.0, "less"
	for _, p := range g.pairs {
		if a, b := symptom.Members(p); (a == c || b == c) && st.Noise[p].Usual > 0 {
			ratio = math.Sqrt(st.Noise[p].Ratio)
		}
	}
	if f.Symptom == symptom.NoiseGrown {
		f.Cause, kind = cause.Unknown, "more"
		if g.foams(c) {
			f.Cause = cause.RadarDisturbed
		}
	}
	f.Set = []cause.Ranked{{Cause: f.Cause, Suspect: f.Suspect, Tag: f.Tag, Probability: 1}}
	if n := g.bursts(st, c); n >= burstWatch {
		f.Evidence = []cause.Evidence{{From: f.Since, To: unix(e.Active), For: []cause.Cause{f.Cause}, Nats: 2 * n,
			Sentence: fmt.Sprintf("%s read high and came back %.0f times within about a week.", f.Tag, n), Numbers: map[string]float64{"bursts": n}}}
		return
	}
	f.Evidence = []cause.Evidence{{From: f.Since, To: unix(e.Active), For: []cause.Cause{f.Cause}, Nats: symptom.NoiseNats,
		Sentence: fmt.Sprintf("%s scatters %s than it used to: %.0f %% of the usual.", f.Tag, kind, 100*ratio), Numbers: map[string]float64{"ratio": ratio}}}
}

// pointEvidence uses the switches the float works as witnesses of the
// follower, and those with an element of their own as witnesses of the liquid.
func (g *Gauge) pointEvidence(at int64, st *State, l *cause.Ledger) {
	if shift, n, together := g.commonShift(st); together {
		l.Add(cause.Evidence{From: unix(at - day), To: unix(at), Excitation: fmt.Sprintf("%d switches", n), Numbers: map[string]float64{"shift_mm": shift},
			Sentence: fmt.Sprintf("The switches trip %+.0f mm from where they used to, by the float's reading.", shift)},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.FollowerShifted {
					return 4 * float64(n)
				}
				return 0
			})
	}
	still := st.stillMoves()
	if n, _, _ := g.liquidActs(st); n > 0 {
		still = max(still, 2)
	}
	g.doubtDecoupled(st, l)
	for i := range g.sheet.Points {
		p, t, tag := &st.Points[i], &g.trips[i], g.sheet.Points[i].Tag
		if still >= 2 && p.Far > 0 && p.LastFar > 0 {
			n := float64(p.Far)
			line := cause.Evidence{From: unix(p.LastFar), To: unix(at), Excitation: fmt.Sprintf("%d actuations", p.Far),
				Sentence: fmt.Sprintf("%s switched while the float read %.0f mm, %.0f mm from its trip point.", tag, p.FarFrom, abs(p.FarFrom-t.Elevation))}
			l.Add(line, func(h *cause.Hypothesis) float64 {
				switch {
				case t.ByFloat && h.Cause == cause.FollowerDecoupled:
					return math.Min(6*n, 12)
				case t.ByFloat && h.Channel == symptom.FloatLevel && unmoving(h.Cause):
					return -math.Min(6*n, 12)
				case !t.ByFloat && h.Channel == symptom.FloatLevel && unmoving(h.Cause):
					return math.Min(4*n, 8)
				}
				return 0
			})
		}
		if still >= 2 && t.ByFloat && g.silent(st, p, t) {
			line := cause.Evidence{From: unix(p.ChangedAt), To: unix(at), Sentence: fmt.Sprintf("%s did not switch although the level passed it.", tag)}
			l.Add(line, func(h *cause.Hypothesis) float64 {
				switch {
				case h.Cause == cause.FollowerDecoupled:
					return -4
				case h.Channel == symptom.FloatLevel && st.rests(h):
					return 1
				}
				return 0
			})
		}
		if n := p.Acts[0] + p.Acts[1]; n > 0 && abs(st.Gaps[gauge.FloatTransmitter].Last) > 6 && st.Gaps[gauge.FloatTransmitter].Watched(at) && max(p.LastAct[0], p.LastAct[1]) > st.onset(gauge.FloatTransmitter) {
			g.followerEvidence(at, st, l, p, tag)
		}
	}
}

// doubtDecoupled enters that a follower without its magnet would have let a
// switch act while it was flat: where there are switches and none did, that is
// less likely than a float that is stuck.
func (g *Gauge) doubtDecoupled(st *State, l *cause.Ledger) {
	switches := 0
	for i := range g.sheet.Points {
		if st.Points[i].Far > 0 {
			return
		}
		if g.trips[i].ByFloat {
			switches++
		}
	}
	if switches == 0 {
		return
	}
	l.Add(cause.Evidence{From: unix(st.Began), To: unix(st.Last), Sentence: "No switch acted while the float was flat."}, func(h *cause.Hypothesis) float64 {
		if h.Cause == cause.FollowerDecoupled {
			return -1.8
		}
		return 0
	})
}

// followerEvidence holds the trip error of a switch worked by the float
// against the gap: the same size blames the follower, none clears it.
func (g *Gauge) followerEvidence(at int64, st *State, l *cause.Ledger, p *symptom.Point, tag string) {
	d := symptom.Rising
	if p.LastAct[symptom.Falling] > p.LastAct[symptom.Rising] {
		d = symptom.Falling
	}
	e, _ := p.Shift(d)
	gap := st.Gaps[gauge.FloatTransmitter].Last
	const s = 4.0
	w := (e*e - (e-gap)*(e-gap)) / (2 * s * s)
	w = math.Max(-8, math.Min(8, w))
	l.Add(cause.Evidence{From: unix(p.LastAct[d]), To: unix(at), Numbers: map[string]float64{"trip_error_mm": e, "gap_mm": gap},
		Sentence: fmt.Sprintf("%s switched with the float %+.0f mm from where it used to; the gap has changed by %+.0f mm.", tag, e, gap)},
		func(h *cause.Hypothesis) float64 {
			if h.Cause == cause.FollowerShifted {
				return w
			}
			return 0
		})
}

// silent reports whether the level, by the transmitter or the vessel, is past
// a switch that still shows the float's side.
func (g *Gauge) silent(st *State, p *symptom.Point, t *symptom.Trip) bool {
	for _, c := range [...]symptom.Channel{symptom.TransmitterLevel, symptom.SecondLevel, symptom.VesselLevel} {
		if !g.has(c) || st.Movement.At[c] == 0 {
			continue
		}
		margin := t.Differential/2 + 30
		x := st.Movement.Level[c]
		return p.State == gauge.Dry && x > t.Elevation+margin || p.State == gauge.Wet && x < t.Elevation-margin
	}
	return false
}

// stillMoves returns the most moves any witness made past a still float.
func (st *State) stillMoves() (n uint16) {
	for c := range symptom.Channels {
		n = max(n, st.Movement.Follow[symptom.FloatLevel][c].Still)
	}
	return n
}

func (st *State) gapOf(p gauge.Pair) float64 { return abs(st.Gaps[p].Median.V[2]) }

func (st *State) onset(p gauge.Pair) int64 {
	_, _, onset := st.Gaps[p].Evidence()
	return onset
}

// blamePoint names the switch; a shift of every switch at once is blamed on
// the follower by the evidence of the levels.
func (g *Gauge) blamePoint(st *State, e *Episode) {
	f, tag := &e.Finding, g.sheet.Points[e.Index].Tag
	f.Cause, f.Suspect, f.Tag = cause.PointFailed, cause.Point, tag
	if f.Symptom == symptom.PointShifted {
		f.Cause = cause.PointShifted
	}
	p := &st.Points[e.Index]
	f.Set = []cause.Ranked{{Cause: f.Cause, Suspect: f.Suspect, Tag: tag, Probability: 1}}
	f.Evidence = []cause.Evidence{{From: f.Since, To: unix(e.Active), For: []cause.Cause{f.Cause}, Nats: math.Max(p.MissNats, 4),
		Sentence:   fmt.Sprintf("Float is at %.0f mm, %s trips at %.0f mm and is %s.", p.Position, tag, g.trips[e.Index].Elevation, p.State),
		Excitation: fmt.Sprintf("%d actuations rising, %d falling", p.Acts[0], p.Acts[1])}}
}

func (g *Gauge) blameSignal(st *State, e *Episode) {
	f, s := &e.Finding, symptom.Signal(e.Index)
	f.Cause, f.Suspect, f.Tag = cause.NoSignal, cause.Signal, g.signalTag(s)
	f.Set = []cause.Ranked{{Cause: f.Cause, Suspect: f.Suspect, Tag: f.Tag, Probability: 1}}
	f.Evidence = []cause.Evidence{{From: f.Since, To: unix(e.Active), For: []cause.Cause{cause.NoSignal}, Nats: 4,
		Sentence: fmt.Sprintf("%s gives no usable reading: %s.", f.Tag, st.Presence.Lost[s])}}
}

// signalTag returns the tag behind a signal.
func (g *Gauge) signalTag(s symptom.Signal) string {
	sh := &g.sheet
	switch {
	case s < symptom.Signal(symptom.Channels):
		return g.tag(symptom.Channel(s))
	case s == symptom.PressureSignal:
		return sh.Pressure.Tag
	case s == symptom.TemperatureSignal:
		return sh.Temperature.Tag
	case s == symptom.ChamberTemperatureSignal:
		return sh.ChamberTemperature.Tag
	case s == symptom.DensitySignal:
		return sh.Densitometer.Tag
	}
	return sh.Points[s-symptom.PointSignal].Tag
}
