package compare

import (
	"cmp"
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// pointEvidence uses the switches the float works as witnesses of the
// follower, and those with an element of their own as witnesses of the liquid.
func (g *Gauge) pointEvidence(at int64, st *State, l *cause.Ledger) {
	if shift, n, together := g.commonShift(st); together {
		l.Add(cause.Evidence{From: unix(at - day), To: unix(at), Excitation: fmt.Sprintf("%d switches", n), Numbers: map[string]float64{"shift_mm": shift},
			Sentence: tripTogether(shift)},
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
		if g.lone() {
			g.restEvidence(at, st, l)
			g.orderEvidence(at, st, l)
		}
	}
	for i := range g.sheet.Points {
		p, t, tag := &st.Points[i], &g.trips[i], g.sheet.Points[i].Tag
		if still >= 2 && (p.Far > 0 && p.LastFar > 0 || g.lone() && g.acted(st, i)) {
			n := float64(contradictions(p))
			line := cause.Evidence{From: unix(p.ChangedAt), To: unix(at), Excitation: fmt.Sprintf("%.0f actuations", n),
				Sentence: fmt.Sprintf("%s switched while the float read %.0f mm, %.0f mm from its trip point.", tag, p.Where, abs(p.Where-t.Elevation))}
			if p.Fixed > 1 {
				line.Sentence = fmt.Sprintf("%s switched to and fro while the float stayed at %.0f mm, and its differential is %.0f mm.", tag, p.Where, t.Differential)
			}
			l.Add(line, func(h *cause.Hypothesis) float64 {
				switch {
				case h.Cause == cause.PointFailed && h.Point == i && t.ByFloat:
					return math.Min(6*n, 12)
				case h.Cause == cause.PointFailed && h.Point == i:
					return math.Min(4*n, 8)
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
			line := cause.Evidence{From: unix(cmp.Or(p.ChangedAt, st.Began)), To: unix(at), Sentence: fmt.Sprintf("%s did not switch although the level passed it.", tag),
				For: []cause.Cause{cause.FloatStuck, cause.FloatPartlyStuck, cause.FloatOneWay}} // as it should be where the float stands
			l.Add(line, func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.FollowerDecoupled {
					return -4
				}
				return 0
			})
		}
		if p.Acts[0]+p.Acts[1] > 0 {
			g.followerEvidence(at, st, l, p, tag)
		}
	}
}

// followerEvidence holds the trip error of a switch worked by the float
// against the float's gaps: the size of one of them blames the follower, none
// clears it. A gap is judged by a trip since it opened.
func (g *Gauge) followerEvidence(at int64, st *State, l *cause.Ledger, p *symptom.Point, tag string) {
	d := p.Latest()
	e := p.Newest(d) // the median still holds actuations from before
	w, gap, any := 0.0, 0.0, false
	for _, pair := range g.pairs {
		x, ok := st.floatOff(pair)
		if !ok || abs(x) <= 6 || !st.Gaps[pair].Watched(at) || p.LastAct[d] <= st.onset(pair) {
			continue
		}
		const s = 4.0
		if v := math.Max(-8, math.Min(8, (e*e-(e-x)*(e-x))/(2*s*s))); !any || v > w {
			w, gap, any = v, x, true
		}
	}
	if !any {
		return
	}
	l.Add(cause.Evidence{From: unix(p.LastAct[d]), To: unix(at), Numbers: map[string]float64{"trip_error_mm": e, "gap_mm": gap},
		Sentence: fmt.Sprintf("%s switched with the float %s than it used to; the gap has changed by %+.0f mm.", tag, higher(e), gap)},
		func(h *cause.Hypothesis) float64 {
			if h.Cause == cause.FollowerShifted {
				return w
			}
			return 0
		})
}

// silent reports whether the level, by the transmitter or the vessel, went past
// a switch since the float became flat and the switch still shows the float's
// side.
func (g *Gauge) silent(st *State, p *symptom.Point, t *symptom.Trip) bool {
	since := max(st.Movement.Anchor[symptom.FloatLevel].Since, p.ChangedAt)
	margin := t.Differential/2 + 30
	past := func(x float64) bool {
		return p.State == gauge.Dry && x > t.Elevation+margin || p.State == gauge.Wet && x < t.Elevation-margin
	}
	for _, c := range [...]symptom.Channel{symptom.TransmitterLevel, symptom.SecondLevel, symptom.VesselLevel} {
		if !g.has(c) || st.Movement.At[c] == 0 {
			continue
		}
		for i := range st.Hours.Marks {
			if m := &st.Hours.Marks[i]; m.At > since+st.Hours.Step && past(float64(m.Level[c])) {
				return true
			}
		}
		return past(st.Movement.Level[c])
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
func (g *Gauge) blamePoint(at int64, st *State, e *Episode) {
	f, tag := &e.Finding, g.sheet.Points[e.Index].Tag
	f.Cause, f.Suspect, f.Tag = cause.PointFailed, cause.Point, tag
	switch f.Symptom {
	case symptom.PointShifted:
		f.Cause = cause.PointShifted
	case symptom.PointWidened:
		f.Cause = cause.PointWorn
	}
	p := &st.Points[e.Index]
	f.Alone()
	f.Evidence = []cause.Evidence{{From: f.Since, To: unix(e.Active), For: []cause.Cause{f.Cause}, Nats: math.Max(p.MissNats, 4),
		Sentence:   fmt.Sprintf("%s Now the float is at %.0f mm and %s is %s.", g.seen(at, st, e), p.Position, tag, p.State),
		Excitation: fmt.Sprintf("%d actuations rising, %d falling", p.Acts[0], p.Acts[1])}}
	if shift, since, c := g.misplaced(st, e); c != cause.Unknown {
		l := g.pointOrFollower(at, st, e.Index, c, shift, since)
		ranked := l.Rank()
		f.Cause, f.Suspect, f.Tag = cause.Name(ranked)
		f.Set, f.Evidence = cause.Remaining(ranked), append(f.Evidence, l.Lines...)
	}
}
