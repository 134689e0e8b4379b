package compare

import (
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// A single fault leaves all other instruments in agreement, whatever its form.
// Where they are not, more than one thing is wrong, and the name of the best
// single cause may be that of a third.

// apartMost is the mean square by which the others may be apart, in what it may
// be, while one is blamed alone. In benign service no gauge with one fault has
// more than 1.7; of those with two, nine in ten are beyond (own simulation).
const apartMost = 2.5

// apartLikely is the same while no two of the others part by more than they may:
// the weather of a long record moves sound levels apart for hours.
const apartLikely = 6.0

// alone reports whether the best single cause is enough.
func (g *Gauge) alone(at int64, st *State, l *cause.Ledger, x *parting) bool {
	best := &l.Bank[l.Best()]
	return x.explains(best) || x.left(best) <= apartLikely && !g.othersPart(at, st, x, seenAt(best))
}

// othersPart reports whether two levels part by more than may be, leaving out a
// channel.
func (g *Gauge) othersPart(at int64, st *State, x *parting, left symptom.Channel) bool {
	others := without(x.problem, left).Channels
	return slices.ContainsFunc(others, func(c symptom.Channel) bool {
		return g.parts(at, st, c, without(x.problem, left, c).Channels...)
	})
}

// explains reports whether a hypothesis by itself leaves the other levels in
// agreement. Of two levels nothing is left to be apart.
func (x *parting) explains(h *cause.Hypothesis) bool { return x.left(h) <= apartMost }

// left is how far those a hypothesis does not blame are apart, as a mean square
// in what it may be.
func (x *parting) left(h *cause.Hypothesis) float64 {
	s := &x.solution
	switch c := seenAt(h); {
	case s.Voices < 3 || c == symptom.Channels || !s.Took(c):
		return 0
	case h.Cause == cause.DensityWrong:
		return math.Min(s.Fits[c][shape.Density].Left, s.Beside[c])
	case h.Cause == cause.UpperDensityWrong:
		return math.Min(s.Fits[c][shape.Upper].Left, s.Beside[c])
	default:
		return s.Beside[c]
	}
}

// followerBeside reports whether the switches say that the follower has moved
// while the best single cause is another.
func (g *Gauge) followerBeside(st *State, e *Episode, l *cause.Ledger) bool {
	by := l.Bank[l.Best()].Cause
	return by != cause.FollowerShifted && by != cause.Unknown && g.allTripElse(st, e.Finding.Since.Unix())
}

// allTripElse reports whether every switch of the float that changed since a
// time now trips elsewhere, the same way.
func (g *Gauge) allTripElse(st *State, since int64) bool {
	shift := 0.0
	for i := range g.sheet.Points {
		p := &st.Points[i]
		if !g.trips[i].ByFloat || p.LastAct[p.Latest()] <= since {
			continue
		}
		off, sure := p.Elsewhere(since)
		if !sure || off*shift < 0 || abs(off) < tripElse {
			return false
		}
		shift = off
	}
	return shift != 0
}

// tripElse is from where on a switch surely trips elsewhere than it used to, mm:
// more than the differential of a reed and the steps of its chain let it differ
// (common practice, no source).
const tripElse = 8.0

// unexplained writes a finding no single cause explains and no two for certain.
// A name stays, or is given, only by what does not rest on how the levels
// parted: what stood still, or where switches tripped. The set holds what may be
// there at once.
func (g *Gauge) unexplained(at int64, e *Episode, l *cause.Ledger, couples []couple, x *parting) {
	f := &e.Finding
	ranked := l.RankWithout(x.line)
	c, by, tag := cause.Name(ranked)
	set, _ := members(l, couples, math.Inf(-1))
	switch {
	case by != cause.Undecided:
		set = united(cause.Remaining(ranked), set)
	case len(set) == 0:
		set = united(cause.Remaining(l.Rank()), cause.Remaining(ranked))
	}
	f.Set, f.RatePerD, f.More = set, 0, true
	f.Evidence = append(l.Lines, cause.Evidence{From: unix(x.solution.From), To: unix(x.solution.To), Sentence: x.mixed(l)})
	e.wish(at, Name{c, by, tag})
	if g.givesWay(at, e) {
		f.Cause, f.Suspect, f.Tag = c, by, tag
	}
	f.Hold(ranked)
	e.Channels = blames(l.Bank, f.Set, e.Channels)
}

// mixed says why one cause is not enough.
func (x *parting) mixed(l *cause.Ledger) string {
	if x.explains(&l.Bank[l.Best()]) {
		return "The switches trip elsewhere by the float's reading, and the best single cause does not move them: more than one thing is wrong."
	}
	return "Whichever one cause is left out, the other levels do not agree: more than one thing is wrong."
}

// united adds to a set the causes of instruments it does not have.
func united(set, more []cause.Ranked) []cause.Ranked {
	set = slices.Clone(set)
	for _, r := range more {
		if !slices.ContainsFunc(set, func(o cause.Ranked) bool { return o.Blames(r.Suspect, r.Tag) }) {
			set = append(set, r)
		}
	}
	return set
}
