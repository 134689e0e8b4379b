package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// repeats says which instrument gives one reading to the last digit though
// another left it, and how far that went, mm. A device whose readings repeat in
// health is not judged, nor by a witness an open alert blames.
func (g *Gauge) repeats(at int64, st *State, c symptom.Channel) (moved symptom.Channel, mm float64, yes bool) {
	r := &st.Repeat[c]
	if r.Since == 0 || st.Exception[c].Known() || at-st.Exception[c].Began < symptom.LearnSeconds {
		return 0, 0, false
	}
	stands, blamed := r.Stands(at), st.blamed()
	for o := range symptom.Channels {
		if o == c || !g.has(o) || blamed&bit(o) != 0 || !st.speaks(at, o) || !stands && !g.leftAt(st, c, o) {
			continue
		}
		if d, far := r.Left(o, st.Movement.Level[o]); far && abs(d) > abs(mm) && !g.leftAlone(at, st, c, o, d) {
			moved, mm, yes = o, d, true
		}
	}
	return moved, mm, yes
}

// again reports whether both readings of a pair are sent again and not measured
// again, as from a gateway that was restarted: to the last digit those of the
// minute before, though one of the devices does not repeat in health. A wild
// echo it kept is one reading, however long it is sent.
func (st *State) again(at int64, a, b symptom.Channel) bool {
	return st.Repeat[a].Again(at) && st.Repeat[b].Again(at) && (!st.Exception[a].Known() || !st.Exception[b].Known())
}

// leftAt reports whether another level is beyond what is allowed from a channel
// that gave one reading all that time: that needs no quarter of an hour. The
// other may not be an echo that foam lifts, nor the channel one that foam hid
// lately: a radar without an echo keeps its last reading.
func (g *Gauge) leftAt(st *State, c, o symptom.Channel) bool {
	p := pairOf(c, o)
	gap := &st.Gaps[p]
	if o == symptom.VesselLevel || gap.Sparse || !g.prompt(st, p) || !st.Repeat[c].Stood(gap.Prompt.Since) {
		return false
	}
	low, _ := ordered(p, gap.Prompt.Sign)
	return (!g.foams(c) || st.unfoamed(p)) && (!g.foams(o) || low == o)
}

// repeatSigns says who repeats one reading while another moves.
func (g *Gauge) repeatSigns(at int64, st *State, list []sign) []sign {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		o, d, yes := g.repeats(at, st, c)
		if !yes {
			continue
		}
		s := sign{group: Levels, channels: bit(c), alert: true}
		s.Symptom = symptom.Symptom{Kind: stillKind(c), Point: -1, Pair: pairOf(c, o), Since: unix(st.Repeat[c].Since), Found: unix(at),
			Value: length(d), Moves: int(st.Movement.Follow[c][o].Still), Nats: symptom.AlertNats}
		list = append(list, s)
	}
	return list
}

// repeatEvidence enters who repeated one reading: what rests does, and a sound
// instrument beside a moving level does not.
func (g *Gauge) repeatEvidence(at int64, st *State, l *cause.Ledger) {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		o, d, yes := g.repeats(at, st, c)
		if !yes {
			continue
		}
		r := &st.Repeat[c]
		l.Add(cause.Evidence{From: unix(r.Since), To: unix(at), Excitation: fmt.Sprintf("%.0f mm", abs(d)),
			Sentence: fmt.Sprintf("%s gave one reading %d times, equal to the last digit, while %s went %+.0f mm.", g.name(c), r.N, lower(g.name(o)), d),
			Numbers:  map[string]float64{"readings": float64(r.N), "moved_mm": d}},
			func(h *cause.Hypothesis) float64 {
				if h.Channel == c && g.rests(st, h) {
					return math.Min(float64(r.N)/4, 8)
				}
				return 0
			})
	}
}
