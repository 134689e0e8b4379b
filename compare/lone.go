package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// A gauge without a transmitter and without a level on the vessel has only its
// points to hold the float against. One point is as good a witness as the
// float; together they tell which is wrong: one float works them all in their
// order, so a point that has failed contradicts its neighbours and a follower
// that is lost contradicts every point.

// lone reports whether float and points are all there is.
func (g *Gauge) lone() bool {
	return len(g.pairs) == 0 && g.has(symptom.FloatLevel) && len(g.sheet.Points) > 0
}

// acted reports whether a switch changed while the float stood still far from
// it: liquid or magnet moved and the reading did not.
func (g *Gauge) acted(st *State, i int) bool {
	p, t, a := &st.Points[i], &g.trips[i], &st.Movement.Anchor[symptom.FloatLevel]
	if t.ByFloat && !g.lone() || !g.has(symptom.FloatLevel) || a.Since == 0 {
		return false
	}
	if g.lone() && p.Fixed > 1 && p.ChangedAt >= a.Since+60 && (!t.Ripples(p.Where) || g.restsUnusually(st)) {
		return true
	}
	return p.Far > 0 && p.LastFar >= a.Since+60 && abs(st.Movement.Level[symptom.FloatLevel]-t.Elevation) > farFromTrip
}

// restsUnusually reports whether the float has rested several times as long as
// it ever did in the week before. What is announced stays so for as long as the
// float rests, also once that week is forgotten.
func (g *Gauge) restsUnusually(st *State) bool {
	since := st.Movement.Anchor[symptom.FloatLevel].Since
	for i := range st.Episodes {
		if e := &st.Episodes[i]; e.Group == Levels && e.Finding.Tier == cause.Alert && !e.Finding.Since.After(unix(since)) {
			return true
		}
	}
	usual := g.longestRest(st, since)
	return usual != 0 && st.Last-since >= restTimes*usual+restBeyond
}

// stays reports whether a switch of a lone gauge that changed without the float
// has contradicted it for a while: then one change is enough to look.
func (g *Gauge) stays(at int64, st *State) bool {
	for i := range g.sheet.Points {
		if p := &st.Points[i]; g.lone() && g.acted(st, i) && p.WrongSince != 0 && at-p.WrongSince >= contradictWatch {
			return true
		}
	}
	return false
}

// outOfOrder reports whether the points cannot all be right wherever the float
// is: one is wet and a lower one dry.
func (g *Gauge) outOfOrder(st *State) bool {
	for i := range g.sheet.Points {
		for j := range g.sheet.Points {
			above := g.trips[i].Elevation - g.trips[j].Elevation - (g.trips[i].Differential+g.trips[j].Differential)/2
			if above > 0 && st.Points[i].State == gauge.Wet && st.Points[j].State == gauge.Dry {
				return true
			}
		}
	}
	return false
}

// contradictions is how often a switch changed in a row without the float.
func contradictions(p *symptom.Point) int { return int(max(p.Far, p.Fixed)) }

// restEvidence weighs how long the float of a lone gauge has stood still
// against how long it used to: a process that never rested so long is not
// likely to rest while a switch moves.
func (g *Gauge) restEvidence(at int64, st *State, l *cause.Ledger) {
	since := st.Movement.Anchor[symptom.FloatLevel].Since
	rest, usual := at-since, g.longestRest(st, since)
	if usual == 0 || rest < usual+stillLeast {
		return
	}
	w := math.Min(restMost, 2*float64(rest-usual)/float64(usual))
	l.Add(cause.Evidence{From: unix(since), To: unix(at), Numbers: map[string]float64{"rest_s": float64(rest), "usual_s": float64(usual)},
		Sentence: fmt.Sprintf("Float has not moved for %s; in the week before it never rested longer than %s.", span(rest), span(usual))},
		func(h *cause.Hypothesis) float64 {
			if h.Channel == symptom.FloatLevel && unmoving(h.Cause) {
				return w
			}
			return 0
		})
}

// restMost is the most a long rest says, nats, and restKnown the time a float
// must have been watched for its usual rest to be known, s.
const (
	restMost  = 4.0
	restKnown = 2 * day
)

// A rest is unusual from so many times the longest of the week before, and so
// much, s: a process may be stopped for an hour or two at any time.
const (
	restTimes  = 6
	restBeyond = 6 * 3600
)

// longestRest is the longest time the float kept within its tolerance before
// a time, s, as the marks of the last week show it; 0 when they are too few.
func (g *Gauge) longestRest(st *State, before int64) (longest int64) {
	marks := st.Hours.Since(0, st.marks)
	st.marks = marks
	var from int64
	at := math.NaN()
	if len(marks) == 0 || before-marks[0].At < restKnown {
		return 0
	}
	for i := range marks {
		x := float64(marks[i].Level[symptom.FloatLevel])
		if marks[i].At >= before || math.IsNaN(x) {
			continue
		}
		if !(abs(x-at) <= g.scale.Tolerance[symptom.FloatLevel]) {
			from, at = marks[i].At, x
		}
		longest = max(longest, marks[i].At-from+st.Hours.Step)
	}
	return longest
}

// pointOrFollower says whether a switch or the follower has shifted. The other
// switches of the float that were passed since either err by the same or do
// not, and the float's gap has changed by as much or not at all; a gap of
// another size is about something else.
func (g *Gauge) pointOrFollower(at int64, st *State, i int, c cause.Cause, shift float64, since int64) *cause.Ledger {
	l := cause.NewLedger([]cause.Hypothesis{
		{Cause: c, Suspect: cause.Point, Tag: g.sheet.Points[i].Tag, Channel: symptom.Channels, Point: i, Prior: 2},
		{Cause: cause.FollowerShifted, Suspect: cause.Follower, Tag: g.sheet.Float.Tag, Channel: symptom.FloatLevel, Point: -1, Prior: 1},
	})
	const s = 4.0
	for j := range g.sheet.Points {
		p := &st.Points[j]
		for d := symptom.Rising; d <= symptom.Falling; d++ {
			if j == i || !g.trips[j].ByFloat || p.LastAct[d] < since {
				continue
			}
			e := p.Newest(d)
			w := math.Max(-6, math.Min(6, ((e-shift)*(e-shift)-e*e)/(2*s*s)))
			l.Add(cause.Evidence{From: unix(p.LastAct[d]), To: unix(at), Numbers: map[string]float64{"trip_error_mm": e, "shift_mm": shift},
				Sentence: fmt.Sprintf("%s switched %s, %s.", g.sheet.Points[j].Tag, d, fromUsual(e))},
				func(h *cause.Hypothesis) float64 {
					if h.Suspect == cause.Point {
						return w
					}
					return 0
				})
		}
	}
	g.gapOrPoint(at, st, l, shift, since)
	return l
}

// gapOrPoint enters what the float's gap that tells most says about a shift. Of
// two gaps that tell the opposite one is another instrument's, and each takes
// from what the other says.
func (g *Gauge) gapOrPoint(at int64, st *State, l *cause.Ledger, shift float64, since int64) {
	const s, most = 4.0, 3.5 * 3.5 / 2
	yes, no, told, gap := 0.0, 0.0, 0.0, 0.0
	for _, p := range g.pairs {
		x, ok := st.floatOff(p)
		if !ok || st.Gaps[p].LastAt <= since {
			continue
		}
		v := math.Min((x-shift)*(x-shift)/(2*s*s), most) - math.Min(x*x/(2*s*s), most)
		yes, no = math.Max(yes, v), math.Min(no, v)
		if abs(v) > told {
			told, gap = abs(v), x
		}
	}
	w := yes + no
	l.Add(cause.Evidence{From: unix(since), To: unix(at), Numbers: map[string]float64{"gap_mm": gap, "shift_mm": shift},
		Sentence: fmt.Sprintf("The float's gap has changed by %+.0f mm.", gap)},
		func(h *cause.Hypothesis) float64 {
			if h.Suspect == cause.Point {
				return w
			}
			return 0
		})
}

// misplaced reports, of a switch worked by the float that is said to change at
// another place, by how much, mm, since when, and what it is called when the
// follower is right.
func (g *Gauge) misplaced(st *State, e *Episode) (shift float64, since int64, c cause.Cause) {
	p, t := &st.Points[e.Index], &g.trips[e.Index]
	switch {
	case !t.ByFloat:
	case g.lone() && e.Finding.Symptom == symptom.PointContradicts && p.Far > 0 && abs(p.FarFrom-t.Elevation) <= farFromTrip:
		return p.FarFrom - t.Elevation, e.Finding.Since.Unix(), cause.PointFailed
	case e.Finding.Symptom == symptom.PointShifted:
		best := 0.0
		for d := symptom.Rising; d <= symptom.Falling; d++ {
			if nats, _, onset := p.Cusum[d].Max(); nats > best {
				best, since = nats, onset
				shift, _ = p.Shift(d)
			}
		}
		return shift, since, cause.PointShifted
	}
	return 0, 0, cause.Unknown
}

// orderEvidence speaks against a lost follower where the points contradict each
// other: a float works them in their order.
func (g *Gauge) orderEvidence(at int64, st *State, l *cause.Ledger) {
	if !g.outOfOrder(st) {
		return
	}
	l.Add(cause.Evidence{From: unix(at), To: unix(at), Sentence: "The switches contradict each other: one is wet and a lower one dry."},
		func(h *cause.Hypothesis) float64 {
			if h.Channel == symptom.FloatLevel && unmoving(h.Cause) {
				return -2 * refuted
			}
			return 0
		})
}

// fromUsual says how far from its place a switch changed.
func fromUsual(e float64) string {
	if abs(e) < 3 {
		return "where it used to"
	}
	return higher(e) + " than it used to"
}
