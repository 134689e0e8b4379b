package compare

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// The switches stand on the same chamber as the follower and are worked by the
// same magnet. Two of them that trip elsewhere by as much say by how much the
// follower has moved, whatever the other levels do.

// everyPoint is the index of what is about all switches of a gauge at once.
const everyPoint = -1

// followerAlone reports whether the switches show a shift of the follower that
// no finding about the levels accounts for, because a named one blames another
// instrument.
func (g *Gauge) followerAlone(st *State) bool {
	other := false
	for i := range st.Episodes {
		e := &st.Episodes[i]
		if e.Group != Levels || e.Finding.Tier != cause.Alert {
			continue
		}
		if slices.ContainsFunc(e.Finding.Set, func(r cause.Ranked) bool { return r.Suspect == cause.Follower }) {
			return false
		}
		switch e.Finding.Suspect {
		case cause.Transmitter, cause.Vessel, cause.Chamber:
			other = true
		}
	}
	return other
}

// blameBracket names the follower by the switches alone.
func (g *Gauge) blameBracket(st *State, e *Episode) {
	f := &e.Finding
	shift, n, _ := g.commonShift(st)
	f.Cause, f.Suspect, f.Tag = cause.FollowerShifted, cause.Follower, g.sheet.Float.Tag
	f.Alone()
	if n == 0 {
		return
	}
	f.Evidence = []cause.Evidence{{From: f.Since, To: unix(e.Active), For: []cause.Cause{f.Cause}, Nats: 4 * float64(n),
		Sentence: tripTogether(shift), Excitation: fmt.Sprintf("%d switches", n), Numbers: map[string]float64{"shift_mm": shift}}}
}

// tripTogether says how far all switches have moved by the float's reading.
func tripTogether(shift float64) string {
	return fmt.Sprintf("The switches trip %s than they used to, by the float's reading.", higher(shift))
}

// beyondFollower looks, where there are two levels only, for what is left of
// their gap once the follower is put back where the switches say it was. What
// remains is weighed like any gap of two levels.
func (g *Gauge) beyondFollower(at int64, st *State, e *Episode, l *cause.Ledger, x *parting) bool {
	shift, n, together := g.commonShift(st)
	if !together || n < 2 || !slices.Contains(x.problem.Channels, symptom.FloatLevel) {
		return false
	}
	q := g.putBack(st, x.problem, shift)
	s := q.Solve()
	if s.Marks < marksLeast {
		return false
	}
	follower, ranked := -1, []couple(nil)
	for i := range l.Bank {
		if h := &l.Bank[i]; h.Cause == cause.FollowerShifted {
			follower = i
		} else if fit := g.score(st, h, &s); !math.IsInf(fit, -1) && h.Channel < symptom.Channels {
			ranked = append(ranked, couple{b: i, fit: fit, nats: temper*fit + l.Without(x.line, i)})
		}
	}
	if len(ranked) == 0 || follower < 0 {
		return false
	}
	slices.SortStableFunc(ranked, byNats)
	best := ranked[0]
	beyond := temper * (best.fit - s.Healthy) // what the follower alone leaves unexplained
	if s.Strains(best.fit) || beyond < 2*cause.Decisive {
		return false
	}
	keep := 0
	for i := range ranked {
		ranked[i].a = follower
		if ranked[i].nats > best.nats-cause.Decisive {
			keep = i + 1
		}
	}
	g.nameBoth(e, l, ranked[:keep], best.nats-beyond, &parting{q, s, x.line})
	return true
}

// putBack is the problem of how the levels parted since the first switch
// tripped elsewhere, with the float's reading put back by what the follower has
// shifted.
func (g *Gauge) putBack(st *State, p *shape.Problem, shift float64) *shape.Problem {
	var since int64
	for i := range g.sheet.Points {
		for d := symptom.Rising; d <= symptom.Falling; d++ {
			if nats, _, onset := st.Points[i].Cusum[d].Max(); g.trips[i].ByFloat && nats >= symptom.WatchNats && (since == 0 || onset < since) {
				since = onset
			}
		}
	}
	q := *p
	q.Marks = nil
	for _, m := range p.Marks {
		if m.At >= since {
			m.Level[symptom.FloatLevel] -= float32(shift)
			q.Marks = append(q.Marks, m)
		}
	}
	q.Onset = max(q.Onset, since)
	return &q
}
