package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

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
					case h.Cause == cause.FloatStickSlip && (a == symptom.FloatLevel || b == symptom.FloatLevel) && !g.smooth(st, symptom.FloatLevel),
						h.Cause == cause.DisplacerDisturbed && (h.Channel == a || h.Channel == b) && !g.smooth(st, h.Channel):
						return w - 1 // at one speed friction looks like being late
					}
					return 0
				})
		}
		if w := g.rubs(st, p); w > 0 && a == symptom.FloatLevel {
			l.Add(cause.Evidence{From: unix(at - int64(max(s.Rubbed, s.Trails))*3600), To: unix(at), Numbers: map[string]float64{"friction_mm": s.Friction, "u_mm": s.FrictionU},
				Sentence: fmt.Sprintf("%s differ by %.0f mm between rising and falling, whatever the speed.", pair, 2*abs(s.Friction))},
				func(h *cause.Hypothesis) float64 {
					switch {
					case h.Cause == cause.FloatStickSlip && !g.smooth(st, a), h.Cause == cause.DisplacerDisturbed && h.Channel == b && !g.smooth(st, b):
						return w
					}
					return 0
				})
		}
		if s.HasDensity && abs(s.Density) > 5*s.DensityU && abs(s.Density)*ratioSwing > 3 && a == symptom.FloatLevel && abs(s.Density) < g.immersion(st) {
			l.Add(cause.Evidence{From: unix(at - 86400), To: unix(at), Numbers: map[string]float64{"mm_per_percent": s.Density / 100, "u": s.DensityU / 100},
				Sentence: fmt.Sprintf("%s differ with the density: %.1f mm per per cent.", pair, s.Density/100)},
				func(h *cause.Hypothesis) float64 {
					if h.Cause == cause.DensityWrong {
						return 1 // a small step may fall together with a change of density
					}
					return 0
				})
		}
	}
}

// rubs is the weight of what a pair says about friction: that of the hours it
// was large, or a little where it is small and certain.
func (g *Gauge) rubs(st *State, p gauge.Pair) float64 {
	s := &st.Sign[p]
	switch {
	case g.jerks(st, p):
		return math.Min(8, float64(max(s.Rubbed, s.Trails)))
	case s.Rubbed >= skewWatch:
		return math.Min(8, float64(s.Rubbed))
	case s.HasRub && abs(s.Friction) > math.Max(2, 5*s.FrictionU):
		return 3
	}
	return 0
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
		if a, b := symptom.Members(p); a == symptom.VesselLevel && g.inChamber(b) && st.Sign[p].Skewed < skewWatch {
			return false
		}
	}
	return true
}

// immersion is the most a float's level can change with the density ratio, mm
// per unit of it: one and a half times what is compensated for. A step of the
// gap that falls together with a small change of density looks like far more.
func (g *Gauge) immersion(st *State) float64 {
	newest, ok := st.Hours.Last()
	if !ok || st.DensityU <= 0 {
		return 0
	}
	return 1.5 * abs(float64(newest.Density[symptom.FloatLevel])) / st.DensityU
}

// ratioSwing is a usual swing of the density ratio.
const ratioSwing = 0.02

// fixed reports whether a cause holds its instrument where it is.
func fixed(c cause.Cause) bool {
	return c == cause.FloatStuck || c == cause.FollowerDecoupled || c == cause.TransmitterFrozen
}

// unmoving reports whether a cause makes its instrument stand still.
func unmoving(c cause.Cause) bool {
	switch c {
	case cause.FloatStuck, cause.FloatPartlyStuck, cause.FloatOneWay, cause.FollowerDecoupled, cause.TransmitterFrozen, cause.LegPlugged:
		return true
	}
	return false
}

// rests reports whether a hypothesis makes its instrument stand still now: a
// sunk float rests at the bottom, a saturated transmitter at its limit, and a
// float between two liquids at an end when their densities are not what they
// were.
func (g *Gauge) rests(st *State, h *cause.Hypothesis) bool {
	switch h.Cause {
	case cause.FloatSunk:
		return st.Movement.Level[symptom.FloatLevel] < 40
	case cause.DensityWrong, cause.UpperDensityWrong:
		return g.sheet.Fluid.Upper != nil && g.atAnEnd(st.Movement.Level[symptom.FloatLevel])
	case cause.TransmitterLimit:
		return st.Presence.LimitSince[h.Channel] != 0
	}
	return unmoving(h.Cause)
}

func (g *Gauge) moveEvidence(at int64, st *State, e *Episode, l *cause.Ledger, c *clocks) {
	for subject := symptom.FloatLevel; subject <= symptom.SecondLevel; subject++ {
		if !g.has(subject) {
			continue
		}
		for witness := range symptom.Channels {
			if f := &st.Movement.Follow[subject][witness]; subject != witness && g.has(witness) && f.Set {
				g.followEvidence(at, st, e, l, subject, witness, f, c)
			}
		}
	}
}

func (g *Gauge) followEvidence(at int64, st *State, e *Episode, l *cause.Ledger, subject, witness symptom.Channel, f *symptom.Follow, c *clocks) {
	moves := float64(f.Still)
	if f.Still >= 2 {
		still := f.Swung.Range() < 2*g.scale.Size // else it moved, though not with the witness
		line := cause.Evidence{From: unix(f.Start), To: unix(at), Excitation: fmt.Sprintf("%d moves of %.0f mm", f.Still, g.scale.Size),
			Sentence: fmt.Sprintf("%s moved %.0f mm in all while %s stayed within %.0f mm.", g.name(witness), f.Travel, lower(g.name(subject)), math.Max(1, f.Swung.Range())),
			Numbers:  map[string]float64{"moves": moves, "travel_mm": f.Travel, "range_mm": f.Swung.Range(), "above_mm": f.Over, "below_mm": f.Under}}
		alone := g.movesAlone(at, st, subject, witness)
		l.Add(line, func(h *cause.Hypothesis) float64 {
			switch {
			case h.Cause == cause.TimeSkew && c.off(subject, witness):
				return math.Min(2*moves, 8) // it moves, at another time
			case h.Channel == subject && alone:
				return 0 // another instrument stands with it
			case h.Channel == subject && g.rests(st, h) && (still || !fixed(h.Cause)):
				return math.Min(2*moves, 8)
			case h.Channel == subject && (h.Cause == cause.RadarDisturbed || h.Cause == cause.Emulsion) && f.Over < g.scale.Size:
				return math.Min(2*moves, 8) // a deposit above the level holds the echo
			case h.Channel == witness && fixed(h.Cause):
				return -math.Min(2*moves, 8) // it moved
			case h.Channel == witness && g.wanders(st, h, subject, witness, f):
				return math.Min(2*moves, 7)
			case h.Suspect == cause.Chamber && witness == symptom.VesselLevel && g.chamberStill(st):
				return math.Min(2*moves, 8)
			}
			return 0
		})
	}
	if f.Followed >= 3 && f.LastFollows > e.Finding.Since.Unix()+judgeAfter && !st.stale(at, subject, witness, f) {
		line := cause.Evidence{From: unix(f.Start), To: unix(at), Excitation: fmt.Sprintf("%d moves of %.0f mm", f.Followed, g.scale.Size),
			Sentence: fmt.Sprintf("%s followed the last %d moves of %s.", g.name(subject), f.Followed, lower(g.name(witness)))}
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

// stale reports whether the witness itself stands still against the subject
// and has done so for longer than since the subject last followed it: what was
// followed before says nothing about now.
func (st *State) stale(at int64, subject, witness symptom.Channel, f *symptom.Follow) bool {
	back := &st.Movement.Follow[witness][subject]
	return back.Set && back.Still >= 2 && f.LastFollows < (back.Start+at)/2
}

// judgeAfter is how long after an onset a move must have been followed to
// speak against standing still, s: a slow estimate of the onset may come late.
const judgeAfter = 600

// wanders reports whether a hypothesis lets the witness move by itself, so that
// the subject only seems to stay behind: foam and false echoes lift a radar,
// behind a plugged leg a dp transmitter shows the pressure, and a float that
// hung comes after when the level has long been at rest. A second witness that
// moved too refutes it.
func (g *Gauge) wanders(st *State, h *cause.Hypothesis, subject, witness symptom.Channel, f *symptom.Follow) bool {
	switch h.Cause {
	case cause.FloatOneWay:
		return f.Over >= g.scale.Size || f.Under >= g.scale.Size
	case cause.TransmitterNoisy, cause.FollowerNoisy, cause.VesselNoisy:
		return true
	case cause.RadarDisturbed, cause.Emulsion:
		return f.Under < g.scale.Size
	case cause.LegPlugged:
		for o := range symptom.Channels {
			if x := &st.Movement.Follow[subject][o]; o != witness && o != subject && g.has(o) && x.Set && x.Still >= 2 {
				return false
			}
		}
		return true
	}
	return false
}

// chamberStill reports whether no instrument of the chamber follows the
// vessel: one that does clears the chamber.
func (g *Gauge) chamberStill(st *State) bool {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		if g.inChamber(c) && st.Movement.Follow[c][symptom.VesselLevel].Still == 0 {
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
				if h.Channel == c && (h.Cause == cause.FloatSunk || h.Cause == cause.TransmitterLimit || h.Cause == cause.LegEmpty || h.Suspect == cause.Density && g.rests(st, h)) {
					return 8
				}
				return 0
			})
	}
	if f := symptom.FloatLevel; g.has(f) && st.speaks(at, f) && st.Movement.Level[f] < 40 && g.above(st, f) > 100 {
		l.Add(cause.Evidence{From: unix(st.Movement.Anchor[symptom.FloatLevel].Since), To: unix(at), Sentence: "Float is at the bottom of its travel while the others see liquid above it."},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.FloatSunk || h.Suspect == cause.Density && g.rests(st, h) {
					return 8
				}
				return 0
			})
	}
}

// speaks reports whether a channel has a value that stands for now.
func (st *State) speaks(at int64, c symptom.Channel) bool {
	return st.Movement.At[c] != 0 && !st.Movement.Median[c].Lost(at)
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
				Sentence: g.apart(a, b, sign*abs(gap.Median.V[2])) + ", more than the budget."}
			l.Add(line, func(h *cause.Hypothesis) float64 { return 4 * concerns(h, a, b) })
		case gap.Seen&0x3f == 0x3f && nats < 1:
			line := cause.Evidence{From: unix(gap.LastAt - 3600), To: unix(at), Sentence: fmt.Sprintf("%s and %s agree within budget.", g.name(a), lower(g.name(b)))}
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
