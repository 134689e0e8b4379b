package compare

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// seen is the first sentence: the symptom.
func (g *Gauge) seen(at int64, st *State, e *Episode) string {
	f := &e.Finding
	switch f.Symptom {
	case symptom.FloatStill, symptom.TransmitterFrozen:
		return g.stillSeen(at, st, e)
	case symptom.FloatAtBottom:
		return fmt.Sprintf("Float is at the bottom of its travel since %s.", clock(f.Since))
	case symptom.TransmitterLimit:
		return fmt.Sprintf("%s stands at the end of its range since %s.", g.name(st.limited(e)), clock(f.Since))
	case symptom.GapBeyondBudget, symptom.GapStep, symptom.SpanError, symptom.DensityFollows:
		return g.gapSeen(at, st, e)
	case symptom.TimeSkew, symptom.ChamberLag:
		return g.skewSeen(st, e)
	case symptom.NoiseLost, symptom.NoiseGrown:
		return f.Evidence[0].Sentence
	case symptom.GapDrift:
		return g.driftSeen(st, e)
	case symptom.StickSlip:
		c := symptom.FloatLevel
		if f.Suspect == cause.Transmitter || e.Channels&bit(symptom.FloatLevel) == 0 {
			c = channelOf(e.Channels)
		}
		return fmt.Sprintf("%s stays behind by %.0f mm when the direction of movement changes.", g.name(c), mm(f.Value))
	case symptom.PointMissed:
		p := &st.Points[e.Index]
		return fmt.Sprintf("Float passed %s at %.0f mm %s and it did not switch.", g.sheet.Points[e.Index].Tag, g.trips[e.Index].Elevation, times(int(p.Misses)))
	case symptom.PointContradicts:
		p := &st.Points[e.Index]
		if p.WrongSince == 0 {
			return fmt.Sprintf("%s switched while the float was at %.0f mm, %.0f mm from its trip point.", g.sheet.Points[e.Index].Tag, p.FarFrom, abs(p.FarFrom-g.trips[e.Index].Elevation))
		}
		return fmt.Sprintf("%s is %s while the float is at %.0f mm, %.0f mm beyond its trip point.", g.sheet.Points[e.Index].Tag, p.State, p.Position, abs(p.Position-g.trips[e.Index].Elevation))
	case symptom.PointShifted:
		if e.Group == Levels || e.Index == everyPoint {
			return tripTogether(mm(f.Value))
		}
		return fmt.Sprintf("%s now switches %s than it used to.", g.sheet.Points[e.Index].Tag, higher(mm(f.Value)))
	case symptom.PointWidened:
		return fmt.Sprintf("%s now has a differential of about %.0f mm, it used to have %.0f mm.", g.sheet.Points[e.Index].Tag, mm(f.Value), mm(f.Budget))
	case symptom.PointChatter:
		return fmt.Sprintf("%s chattered %s away from its trip point.", g.sheet.Points[e.Index].Tag, times(int(st.Points[e.Index].Chatters)))
	case symptom.NoReading:
		return g.absenceSeen(st, e)
	case symptom.OutsideDataSheet:
		if st.Presence.OutsideText != "" {
			return st.Presence.OutsideText
		}
		return fmt.Sprintf("Outside the data sheet: %s.", st.Presence.Outside)
	}
	return fmt.Sprintf("Seen: %s.", f.Symptom)
}

const month = 365.25 / 12 // days

// driftSeen describes the pair that drifts fastest, its rate and when it will
// reach the limit at that rate.
func (g *Gauge) driftSeen(st *State, e *Episode) string {
	best, most := gauge.Pairs, 0.0
	for _, p := range g.pairs {
		if d := &st.Drifts[p]; d.Yes > 0 && e.concerns(p) && abs(d.Rate) > most {
			best, most = p, abs(d.Rate)
		}
	}
	if best == gauge.Pairs {
		return fmt.Sprintf("The gap has drifted since about %s.", clock(e.Finding.Since))
	}
	d := &st.Drifts[best]
	a, b := symptom.Members(best)
	low, high := d.between()
	text := fmt.Sprintf("%s and %s drift apart by %.1f mm a month (%.1f to %.1f).", g.name(a), lower(g.name(b)), abs(d.Rate)*month, low*month, high*month)
	limit := g.driftLimit()
	if left := (limit - abs(d.Now)) / abs(d.Rate); left > 0 && d.Now*d.Rate > 0 {
		text += fmt.Sprintf(" At this rate the gap reaches %.0f mm in %.0f days.", limit, left)
	}
	return text
}

// flatSentence says who rested while the other moved.
func (g *Gauge) flatSentence(r *Rest) string {
	return fmt.Sprintf("%s kept within %.1f mm over %d marks of ten minutes while the middle half of %s spread over %.0f mm.",
		g.name(r.Channel), r.Flat.Range, r.Flat.Marks, lower(g.name(r.Other)), r.Flat.Spread)
}

// skewSeen describes the pair that is farthest apart in time.
func (g *Gauge) skewSeen(st *State, e *Episode) string {
	best, most := gauge.Pairs, 0.0
	for _, p := range g.pairs {
		if s := &st.Sign[p]; s.Skewed > 0 && abs(s.Skew) > most {
			best, most = p, abs(s.Skew)
		}
	}
	if best == gauge.Pairs {
		return "The levels differ in proportion to the rate of change."
	}
	a, b := symptom.Members(best)
	if a == symptom.VesselLevel {
		return fmt.Sprintf("Chamber follows the vessel about %.0f s late.", most)
	}
	late := b
	if st.Sign[best].Skew < 0 {
		late = a
	}
	return fmt.Sprintf("%s comes about %.0f s late.", g.name(late), most)
}

// gapSeen describes the largest gap the episode is about.
func (g *Gauge) gapSeen(at int64, st *State, e *Episode) string {
	best, most := gauge.Pairs, 0.0
	for _, p := range g.pairs {
		a, b := symptom.Members(p)
		if gap := st.gapOf(p); e.Channels&(bit(a)|bit(b)) != 0 && st.Gaps[p].Watched(at) && gap > most {
			best, most = p, gap
		}
	}
	switch {
	case best == gauge.Pairs && slices.Contains(e.Kinds, symptom.GapDrift):
		return g.driftSeen(st, e)
	case best == gauge.Pairs:
		return fmt.Sprintf("Levels differ by more than the budget since %s.", clock(e.Finding.Since))
	}
	a, b := symptom.Members(best)
	budget := mm(e.Finding.Budget)
	if j := &st.Gaps[best].Jump; j.Shown() && most < budget {
		return fmt.Sprintf("The gap between %s and %s changed by %.0f mm within minutes about %s and stayed.", lower(g.name(a)), lower(g.name(b)), abs(j.Size), clock(unix(j.Since)))
	}
	if most < budget/2 {
		return fmt.Sprintf("The gap between %s and %s comes and goes since about %s; now it is %.0f mm, the budget %.0f mm.", lower(g.name(a)), lower(g.name(b)), clock(e.Finding.Since), most, budget)
	}
	return fmt.Sprintf("%s since about %s.", g.apart(a, b, st.Gaps[best].Median.V[2]), clock(e.Finding.Since))
}

// apart says how far the first of two channels reads from the second.
func (g *Gauge) apart(a, b symptom.Channel, gap float64) string {
	word := "above"
	if gap < 0 {
		word = "below"
	}
	return fmt.Sprintf("%s reads %.0f mm %s %s", g.name(a), abs(gap), word, lower(g.name(b)))
}

// higher says how far and which way an elevation has moved, mm.
func higher(shift float64) string {
	if shift < 0 {
		return fmt.Sprintf("%.0f mm lower", -shift)
	}
	return fmt.Sprintf("%.0f mm higher", shift)
}

// restShown is the rest of an instrument that is worth telling where no other
// moved past it, s.
const restShown = 1800

// stillSeen says for how long an instrument has not moved, or, where it has
// moved a little since, how little that was beside what the others did.
func (g *Gauge) stillSeen(at int64, st *State, e *Episode) string {
	subject := e.still()
	rest := at - st.Movement.Anchor[subject].Since
	start, mine := at, 0.0
	var did []string
	for c := range symptom.Channels {
		f := &st.Movement.Follow[subject][c]
		if c == subject || !g.has(c) || !f.Set || f.Still < 2 {
			continue
		}
		words := fmt.Sprintf("%s moved %.0f mm", g.name(c), f.Travel)
		if len(did) > 0 {
			words = fmt.Sprintf("%s %.0f mm", lower(g.name(c)), f.Travel)
		}
		did = append(did, words)
		start, mine = min(start, f.Start), math.Max(mine, f.Swung.Range())
	}
	acted := g.actedSince(st, subject)
	switch {
	case len(did) > 0 && 10*rest < 9*(at-start):
		moved := fmt.Sprintf("Since %s %s in all", clock(unix(start)), lower(join(did)))
		if mine > 2*g.scale.Size {
			return fmt.Sprintf("%s; %s moved %.0f mm and not with it.", moved, lower(g.name(subject)), mine)
		}
		return fmt.Sprintf("%s while %s stayed within %.0f mm.", moved, lower(g.name(subject)), math.Max(1, mine))
	case len(did) > 0:
		return fmt.Sprintf("%s has not moved for %s. %s in all%s.", g.name(subject), span(rest), join(did), and(acted))
	case len(acted) > 0:
		return fmt.Sprintf("%s has not moved for %s. %s.", g.name(subject), span(rest), join(acted))
	case rest < restShown:
		return fmt.Sprintf("%s stayed behind the level at times since about %s.", g.name(subject), clock(e.Finding.Since))
	}
	return fmt.Sprintf("%s has not moved for %s.", g.name(subject), span(rest))
}

// actedSince says which switches changed while an instrument stood still.
func (g *Gauge) actedSince(st *State, subject symptom.Channel) (did []string) {
	since := st.Movement.Anchor[subject].Since
	for i, pt := range g.sheet.Points {
		if p := &st.Points[i]; p.ChangedAt > since && (subject != symptom.FloatLevel || p.Far > 0) {
			did = append(did, fmt.Sprintf("%s at %.0f mm switched", pt.Tag, mm(pt.Elevation)))
		}
	}
	return did
}
