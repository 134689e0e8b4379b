package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// couple is two hypotheses that hold together.
type couple struct {
	a, b int     // of the bank
	fit  float64 // nats of how the levels parted
	nats float64 // all evidence
}

// twoFaults looks for two faults at once where no single one explains how the
// levels parted, or none explains both how they parted and what moved or
// switched. It needs a third level that is sound, or switches that tell where
// the float is, and a lead over every single fault as large as a name needs.
// Where it finds none that leads and still no single one explains it, no name is
// given that rests on how the levels parted.
func (g *Gauge) twoFaults(at int64, st *State, e *Episode, l *cause.Ledger, x *parting) bool {
	if x == nil || e.Finding.Tier != cause.Alert {
		return false
	}
	beside := g.followerBeside(st, e, l)
	if len(x.problem.Channels) < 3 {
		if g.beyondFollower(at, st, e, l, x) {
			return true
		}
		if beside {
			g.unexplained(at, e, l, nil, x)
		}
		return beside
	}
	alone := g.alone(at, st, l, x) && !beside
	if alone && !x.solution.Strained() && !g.lags(st) {
		return false
	}
	couples := g.couples(at, st, l, x)
	n := 0
	for n < len(couples) && couples[n].nats > couples[0].nats-cause.Decisive {
		n++
	}
	if single := g.single(st, l, x); n > 0 && !x.solution.Strains(couples[0].fit) && couples[0].nats >= single+cause.Decisive {
		if e.wish(at, Name{Cause: cause.TwoFaults}); g.givesWay(at, e) {
			g.nameBoth(e, l, couples[:n], single, x)
		}
		return true
	}
	if !alone {
		g.unexplained(at, e, l, couples[:n], x)
	}
	return !alone
}

// single is the most any one hypothesis explains, in the coordinates of the
// couples.
func (g *Gauge) single(st *State, l *cause.Ledger, x *parting) float64 {
	best := math.Inf(-1)
	for i := range l.Bank {
		best = math.Max(best, l.Without(x.line, i)+temper*g.score(st, &l.Bank[i], &x.solution))
	}
	return best
}

// couples ranks every two hypotheses about different channels. Leaving out the
// one, the other is judged by those that remain, and the other way round; how
// far those that remain are apart is in both and counts once. Each of the two
// must part from one that remains, for a fault no sound level shows is none, and
// from the other: where two levels agree the odd one out is the simpler answer.
func (g *Gauge) couples(at int64, st *State, l *cause.Ledger, x *parting) (list []couple) {
	for i, a := range x.problem.Channels {
		for _, b := range x.problem.Channels[i+1:] {
			withoutA, withoutB, rest := without(x.problem, a), without(x.problem, b), without(x.problem, a, b)
			if !g.parts(at, st, a, b) || !g.parts(at, st, a, rest.Channels...) || !g.parts(at, st, b, rest.Channels...) {
				continue
			}
			sa, sb := withoutB.Solve(), withoutA.Solve()
			common := 0.0
			if len(rest.Channels) > 1 {
				common = rest.Healthy()
			}
			for j := range l.Bank {
				if seenAt(&l.Bank[j]) != a || g.coupled(&l.Bank[j]) {
					continue
				}
				one := g.score(st, &l.Bank[j], &sa)
				for k := range l.Bank {
					if seenAt(&l.Bank[k]) != b {
						continue
					}
					fit := one + g.score(st, &l.Bank[k], &sb) - common
					if math.IsInf(fit, -1) || math.IsNaN(fit) {
						continue
					}
					nats := temper*fit + l.Both(x.line, j, k) + g.byTrips(st, &l.Bank[j], &sa) + g.byTrips(st, &l.Bank[k], &sb)
					list = append(list, couple{j, k, fit, nats})
				}
			}
		}
	}
	list = append(list, g.withDensity(at, st, l, x)...)
	least := x.mostElse(l) - 2*cause.Decisive
	list = slices.DeleteFunc(list, func(c couple) bool { return math.Max(l.Without(x.line, c.a), l.Without(x.line, c.b)) <= least })
	slices.SortStableFunc(list, byNats)
	return list
}

// mostElse is how well any cause explains what stood still, was late or tripped
// elsewhere. One of a couple must explain it about as well: two forms of gaps are
// not to explain away what was seen otherwise.
func (x *parting) mostElse(l *cause.Ledger) float64 {
	best := math.Inf(-1)
	for i := range l.Bank {
		best = math.Max(best, l.Without(x.line, i))
	}
	return best
}

// byTrips is what the switches say about by how much a follower is shifted: of
// three levels any one may be taken for sound, and only what the magnet works
// tells by how much the follower is off. Other causes they do not judge.
func (g *Gauge) byTrips(st *State, h *cause.Hypothesis, s *shape.Solution) float64 {
	const u, most = 5.0, 8.0 // mm; nats, what one line of evidence may weigh
	if h.Cause != cause.FollowerShifted {
		return 0
	}
	shift, n, _ := g.commonShift(st)
	if n == 0 {
		return 0
	}
	off := (s.Fits[h.Channel][shape.Constant].Size - shift) / u
	return -math.Min(most, 0.5*off*off)
}

// byNats puts the likelier couple first.
func byNats(a, b couple) int { return cmp.Compare(b.nats, a.nats) }

// parts reports whether the gap between a channel and one of others is beyond
// what may be, or the whole chamber stays behind the vessel.
func (g *Gauge) parts(at int64, st *State, c symptom.Channel, others ...symptom.Channel) bool {
	return slices.ContainsFunc(others, func(o symptom.Channel) bool {
		return st.Gaps[pairOf(c, o)].Watched(at) || (c == symptom.VesselLevel || o == symptom.VesselLevel) && g.lags(st)
	})
}

// lags reports whether every instrument of the chamber stays behind the vessel:
// that no fault of one of them explains.
func (g *Gauge) lags(st *State) bool {
	any := false
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		if !g.inChamber(c) {
			continue
		}
		if st.Movement.Follow[c][symptom.VesselLevel].Still < 2 && st.Sign[pairOf(symptom.VesselLevel, c)].Skewed < skewWatch {
			return false
		}
		any = true
	}
	return any && g.has(symptom.VesselLevel)
}

// without is the problem without some of its channels.
func without(p *shape.Problem, left ...symptom.Channel) *shape.Problem {
	q := *p
	q.Channels = nil
	for _, c := range p.Channels {
		if !slices.Contains(left, c) {
			q.Channels = append(q.Channels, c)
		}
	}
	return &q
}

// seenAt is the channel whose error a hypothesis is: a chamber that is plugged
// shows as the vessel's level apart from all others.
func seenAt(h *cause.Hypothesis) symptom.Channel {
	switch {
	case h.Suspect == cause.Chamber:
		return symptom.VesselLevel
	case h.Cause == cause.Unknown || h.Cause == cause.TimeSkew:
		return symptom.Channels
	}
	return h.Channel
}

// members are the causes of couples, of every instrument the most likely one, the
// likeliest instrument first, and the channels they blame; single is the most any
// one cause explains.
func members(l *cause.Ledger, couples []couple, single float64) (set []cause.Ranked, channels uint8) {
	for _, c := range couples {
		for _, i := range [...]int{c.a, c.b} {
			h := &l.Bank[i]
			if slices.ContainsFunc(set, func(r cause.Ranked) bool { return r.Blames(h.Suspect, h.Tag) }) {
				continue
			}
			set = append(set, cause.Ranked{Cause: h.Cause, Suspect: h.Suspect, Tag: h.Tag, Nats: c.nats - couples[0].nats})
			channels |= bit(h.Channel)
		}
	}
	for i := range set {
		set[i].Probability = oneOf(l, couples, single, &set[i])
	}
	return cause.Likeliest(set), channels
}

// oneOf is how likely the instrument of a cause is one of two that are wrong, by
// the couples it is in.
func oneOf(l *cause.Ledger, couples []couple, single float64, r *cause.Ranked) float64 {
	in, all := 0.0, math.Exp(single-couples[0].nats)
	for _, c := range couples {
		w := math.Exp(c.nats - couples[0].nats)
		all += w
		if a, b := &l.Bank[c.a], &l.Bank[c.b]; r.Blames(a.Suspect, a.Tag) || r.Blames(b.Suspect, b.Tag) {
			in += w
		}
	}
	return in / all
}

// nameBoth writes two faults into a finding. The set holds both, and where one
// of them is not certain each that it may be: of every instrument the most
// likely cause.
func (g *Gauge) nameBoth(e *Episode, l *cause.Ledger, couples []couple, single float64, x *parting) {
	f := &e.Finding
	f.Set, e.Channels = members(l, couples, single)
	f.Cause, f.Suspect, f.Tag, f.RatePerD = cause.TwoFaults, cause.Undecided, "", 0
	one, other := l.Bank[couples[0].a].Cause, l.Bank[couples[0].b].Cause
	f.Evidence = append(l.Lines, cause.Evidence{From: unix(x.solution.From), To: unix(x.solution.To), For: []cause.Cause{one, other},
		Nats: temper * (couples[0].fit - x.solution.Best()), Excitation: fmt.Sprintf("%d marks of %s", x.solution.Marks, span(x.problem.Step)),
		Sentence: fmt.Sprintf("No single fault explains how the levels parted; %s together with %s does.", cause.Phrase(one), cause.Phrase(other))})
}
