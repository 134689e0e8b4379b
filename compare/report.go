package compare

import (
	"strings"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// write renews the headline, the advice and the category, on a change and
// once a minute.
func (st *State) write(g *Gauge, now time.Time) {
	minute := now.Unix() / minuteSeconds
	changed := st.changed()
	if len(st.open) != len(st.Episodes) { // first evaluation after a restart
		st.collect()
		changed = true
	}
	if !changed && minute == st.written {
		return
	}
	st.written = minute
	st.category = g.categoryOf(st)
	if len(st.open) == 0 {
		st.headline, st.next = g.quiet(st), ""
		return
	}
	f := &st.open[0]
	st.headline, st.next = f.Sentence, f.Next
	if f.Tier == cause.Watch {
		st.next = ""
	}
}

// changed reports whether this evaluation opened, renamed or ended a finding.
func (st *State) changed() bool {
	return len(st.opened)+len(st.upgraded)+len(st.revised)+len(st.closed) > 0
}

const (
	allWell      = "All instruments agree within budget."
	isolated     = "Chamber is isolated: nothing here says anything about the vessel."
	incomparable = "No two levels can be compared just now."
	unwitness    = "No second level to compare with: only the points can contradict the float."
)

func (g *Gauge) quiet(st *State) string {
	switch {
	case st.Isolated:
		return isolated
	case len(g.pairs) == 0:
		return unwitness
	}
	apart, compared := g.glance(st)
	if apart != "" {
		return apart + " just now; that becomes a finding if it lasts."
	}
	var lost []string
	for s := range symptom.Signals {
		if g.fitted[s] && st.Presence.LostSince[s] != 0 {
			lost = append(lost, g.signalTag(s))
		}
	}
	if len(lost) > 0 {
		return "No usable reading of " + strings.Join(lost, ", ") + "."
	}
	if !compared {
		return incomparable
	}
	return allWell
}

// glance looks at the verdicts of this scan: the first that disagrees, in
// words, and whether any two levels were compared.
func (g *Gauge) glance(st *State) (apart string, compared bool) {
	for i := range st.verdicts {
		v := &st.verdicts[i]
		switch {
		case v.Outcome == Agree && v.Point < 0:
			compared = true
		case v.Outcome == Disagree && v.Point < 0:
			a, b := symptom.Members(v.Pair)
			return g.name(a) + " and " + lower(g.name(b)) + " disagree", true
		case v.Outcome == Disagree:
			return g.sheet.Points[v.Point].Tag + " contradicts the float", compared
		}
	}
	return "", compared
}

func (g *Gauge) categoryOf(st *State) Category {
	if st.Isolated {
		return FunctionCheck
	}
	worst := GoodCategory
	for i := range st.open {
		if c := categoryFor(&st.open[i]); severity(c) > severity(worst) {
			worst = c
		}
	}
	if severity(worst) <= severity(MaintenanceDue) && g.unseen(st) {
		return NotSeenCategory
	}
	return worst
}

// unseen reports whether no level signal of the gauge is there.
func (g *Gauge) unseen(st *State) bool {
	for c := range symptom.Channels {
		if g.has(c) && st.Presence.LostSince[c] == 0 {
			return false
		}
	}
	return true
}

func severity(c Category) int {
	switch c {
	case Failure:
		return 4
	case FunctionCheck:
		return 3
	case OutOfSpec:
		return 2
	case MaintenanceDue:
		return 1
	}
	return 0
}

func categoryFor(f *cause.Finding) Category {
	if f.Tier == cause.Watch {
		return MaintenanceDue
	}
	switch f.Cause {
	case cause.FloatStuck, cause.FloatSunk, cause.FollowerDecoupled, cause.TransmitterFrozen, cause.TransmitterLimit, cause.PointFailed,
		cause.LowerPlug, cause.UpperPlug, cause.NoSignal, cause.LegEmpty, cause.LegPlugged:
		return Failure
	case cause.ChamberIsolated:
		return FunctionCheck
	}
	switch f.Symptom {
	case symptom.FloatStill, symptom.TransmitterFrozen, symptom.FloatAtBottom, symptom.ChamberDead:
		return Failure
	}
	return OutOfSpec
}

// Explain returns the evidence of all open findings, weightiest first.
func (g *Gauge) Explain(st *State) []cause.Evidence {
	var lines []cause.Evidence
	for i := range st.Episodes {
		lines = append(lines, st.Episodes[i].Finding.Evidence...)
	}
	return lines
}
