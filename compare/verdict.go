package compare

import (
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// phrases holds every reason a verdict can give, so that giving one costs no
// memory.
type phrases struct {
	within, beyond, agreeing, differential, contradicts, noFloat, noState, isolated []string
	missing                                                                         [quantity.Unstable + 1][]string
	bound                                                                           [level.AboveUpperTap + 1][]string
}

func newPhrases() (p phrases) {
	p.within = []string{"gap within budget"}
	p.beyond = []string{"gap beyond budget"}
	p.agreeing = []string{"state fits the float"}
	p.differential = []string{"float is inside the switch's differential and uncertainty"}
	p.contradicts = []string{"state contradicts the float"}
	p.noFloat = []string{"no level to compare with"}
	p.noState = []string{"switch state not known"}
	p.isolated = []string{"chamber isolated by record"}
	for r := range p.missing {
		p.missing[r] = []string{"no level: " + quantity.Reason(r).String()}
	}
	p.missing[quantity.NoReason] = []string{"no level"}
	for b := range p.bound {
		p.bound[b] = []string{"a level is " + level.Bound(b).String()}
	}
	return p
}

// deadband keeps a verdict from flickering: a pair that disagrees agrees
// again only below this share of the budget.
const deadband = 0.9

// judgePairs writes the verdict of every pair and every point.
func (g *Gauge) judgePairs(st *State, m *gauge.Measurement) {
	n := len(g.pairs) + len(g.sheet.Points)
	if len(st.verdicts) != n {
		st.verdicts = make([]Verdict, n)
	}
	for i, p := range g.pairs {
		v := &st.verdicts[i]
		v.Pair, v.Point = p, -1
		v.Outcome, v.Reasons = g.judgePair(p, m, v.Outcome)
	}
	for i := range g.sheet.Points {
		v := &st.verdicts[len(g.pairs)+i]
		v.Pair, v.Point = gauge.Pairs, i
		v.Outcome, v.Reasons = g.judgePoint(i, m)
	}
}

func (g *Gauge) judgePair(p gauge.Pair, m *gauge.Measurement, before Outcome) (Outcome, []string) {
	gap := &m.Gaps[p]
	if m.Isolated {
		return CannotTell, g.says.isolated
	}
	if !gap.OK {
		return CannotTell, g.whyNot(p, m)
	}
	limit := 1.0
	if before == Disagree {
		limit = deadband
	}
	if gap.Ratio() > limit {
		return Disagree, g.says.beyond
	}
	return Agree, g.says.within
}

// whyNot says why a pair has no gap: the reason of the level that is missing,
// or the tap one of them is at.
func (g *Gauge) whyNot(p gauge.Pair, m *gauge.Measurement) []string {
	a, b := symptom.Members(p)
	for _, l := range []*level.Level{levelOf(m, a), levelOf(m, b)} {
		if l.Bound == level.BelowLowerTap || l.Bound == level.AboveUpperTap {
			return g.says.bound[l.Bound]
		}
		if !l.OK() && int(l.Reason) < len(g.says.missing) {
			return g.says.missing[l.Reason]
		}
	}
	if r := m.Gaps[p].Reason; int(r) < len(g.says.missing) {
		return g.says.missing[r]
	}
	return g.says.missing[quantity.NoReason]
}

func (g *Gauge) judgePoint(i int, m *gauge.Measurement) (Outcome, []string) {
	t := &g.trips[i]
	position, ok := mm(m.Magnet), m.MagnetOK
	if !t.ByFloat || !g.has(symptom.FloatLevel) {
		l := surface(m)
		position, ok = mm(l.Value), l.OK()
	}
	switch state := m.Points[i]; {
	case m.Isolated:
		return CannotTell, g.says.isolated
	case !ok:
		return CannotTell, g.says.noFloat
	case state == gauge.Unknown:
		return CannotTell, g.says.noState
	case position > t.Elevation+t.Differential/2+3*t.U:
		return fits(state == gauge.Wet, &g.says)
	case position < t.Elevation-t.Differential/2-3*t.U:
		return fits(state == gauge.Dry, &g.says)
	}
	return CannotTell, g.says.differential
}

func fits(ok bool, p *phrases) (Outcome, []string) {
	if ok {
		return Agree, p.agreeing
	}
	return Disagree, p.contradicts
}
