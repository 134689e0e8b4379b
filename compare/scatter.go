package compare

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// burstSigns says where a radar reads high again and again, each time for a
// while: foam that has come to stay.
func (g *Gauge) burstSigns(at int64, st *State, list []sign) []sign {
	for _, p := range [...]gauge.Pair{gauge.FloatTransmitter, gauge.FloatSecond} {
		gap := &st.Gaps[p]
		_, c := symptom.Members(p)
		if st.suspects()&bit(symptom.FloatLevel) != 0 || st.clockOff() {
			continue
		}
		if n := gap.Bursting(at); g.has(c) && g.has(symptom.FloatLevel) && g.foams(c) && gap.BurstSign < 0 && n >= burstWatch {
			s := sign{group: Scatter, index: int(c), alert: n >= burstAlert}
			s.Symptom = symptom.Symptom{Kind: symptom.NoiseGrown, Pair: p, Point: -1, Since: unix(gap.BurstAt - 5*day), Found: unix(at), Crossing: int(n), Nats: 2 * n}
			list = append(list, s)
		}
	}
	return list
}

// clockOff reports whether an open finding names a clock: levels of two times
// part and meet again with every turn.
func (st *State) clockOff() bool {
	return slices.ContainsFunc(st.Episodes, func(e Episode) bool { return e.Group == Levels && e.Finding.Suspect == cause.Clock })
}

// bursts is how often a radar read high lately.
func (g *Gauge) bursts(st *State, c symptom.Channel) float64 {
	p := gauge.FloatTransmitter
	if c == symptom.SecondLevel {
		p = gauge.FloatSecond
	}
	if gap := &st.Gaps[p]; gap.BurstSign < 0 && g.foams(c) {
		return gap.Bursting(st.Last)
	}
	return 0
}

// noiseSigns says which transmitter lost the scatter it always had, and which
// level grew noisy alone. A transmitter that is suspected for its level has a
// finding already.
func (g *Gauge) noiseSigns(at int64, st *State, list []sign) []sign {
	list = g.noisySigns(at, st, list)
	for c := symptom.TransmitterLevel; c <= symptom.SecondLevel; c++ {
		if !g.has(c) {
			continue
		}
		s := sign{group: Scatter, index: int(c)}
		if k := &st.Calm[c]; k.Lost && (st.suspects()&bit(c) == 0 || st.calm(c)) {
			s.alert = true
			s.Symptom = symptom.Symptom{Kind: symptom.NoiseLost, Pair: gauge.Pairs, Point: -1, Since: unix(k.Fall.DnOnset), Found: unix(at), Nats: k.Fall.Down}
			list = append(list, s)
		}
	}
	return list
}

// calm reports whether a loss of noise of a channel is already announced.
func (st *State) calm(c symptom.Channel) bool {
	e := st.about(Scatter, int(c))
	return e != nil && e.Finding.Symptom == symptom.NoiseLost
}

// listen feeds the noise of the transmitters, beside the instrument that sees
// the liquid most like it: a float without steps, the vessel, the other
// transmitter.
func (g *Gauge) listen(b *symptom.Block, st *State) {
	suspects := st.suspects()
	for c := range symptom.Channels {
		st.Exception[c].Add(b, c)
		st.Repeat[c].Add(b, c, &st.Movement.Level, &st.Movement.At, suspects&bit(c) == 0)
	}
	g.listenNoisy(b, st)
	for c := symptom.TransmitterLevel; c <= symptom.SecondLevel; c++ {
		if !b.Has[c] || b.Bound[c] {
			continue
		}
		witness := c
		for _, o := range [...]symptom.Channel{symptom.FloatLevel, symptom.VesselLevel, symptom.TransmitterLevel, symptom.SecondLevel} {
			if o != c && g.has(o) && !(o == symptom.FloatLevel && g.pitch() > finePitch) {
				witness = o
				break
			}
		}
		if b.Has[witness] { // else there is nothing to compare with
			st.Calm[c].Add(b, c, witness, st.Exception[c].Known())
		}
	}
}

// finePitch is the coarsest step of a follower beside which the noise of a
// transmitter can be seen, mm.
const finePitch = 2.0

// commonShift reports whether the switches worked by the float trip shifted
// together, as they do when the follower, not a switch, has moved: two of
// them the same way, or one by as much as the gap to the transmitter changed.
func (g *Gauge) commonShift(st *State) (shift float64, n int, yes bool) {
	least, most := math.Inf(1), math.Inf(-1)
	for i := range g.sheet.Points {
		p, t := &st.Points[i], &g.trips[i]
		if !t.ByFloat {
			continue
		}
		for d := symptom.Rising; d <= symptom.Falling; d++ {
			nats, _, _ := p.Cusum[d].Max()
			if e, k := p.Shift(d); nats >= symptom.WatchNats && k >= 2 {
				least, most, shift = math.Min(least, e), math.Max(most, e), shift+e
				n++
				break
			}
		}
	}
	if n == 0 || least*most <= 0 {
		return 0, 0, false
	}
	shift /= float64(n)
	return shift, n, n >= 2 && most-least < math.Max(6, 0.4*math.Abs(shift)) || g.gapFollows(st, shift)
}

// gapFollows reports whether a gap of the float has changed by a shift, mm.
func (g *Gauge) gapFollows(st *State, shift float64) bool {
	for _, p := range g.pairs {
		if x, ok := st.floatOff(p); ok && st.Gaps[p].LastAt != 0 && math.Abs(x-shift) < math.Max(4, 0.35*math.Abs(shift)) {
			return true
		}
	}
	return false
}

// floatOff is how far above the other of a pair the float reads, mm; ok is
// false for a pair without it.
func (st *State) floatOff(p gauge.Pair) (above float64, ok bool) {
	switch a, b := symptom.Members(p); symptom.FloatLevel {
	case a:
		return st.Gaps[p].Last, true
	case b:
		return -st.Gaps[p].Last, true
	}
	return 0, false
}

// blameScatter names the instrument whose noise changed.
func (g *Gauge) blameScatter(at int64, st *State, e *Episode) {
	f, c := &e.Finding, symptom.Channel(e.Index)
	if f.Symptom == symptom.NoiseGrown {
		g.blameNoisy(at, st, e)
		return
	}
	f.Cause, f.Suspect, f.Tag = cause.TransmitterQuiet, cause.Transmitter, g.tag(c)
	f.Alone()
	ratio := st.Calm[c].Ratio
	f.Evidence = []cause.Evidence{{From: f.Since, To: unix(e.Active), For: []cause.Cause{f.Cause}, Nats: symptom.NoiseNats,
		Sentence: fmt.Sprintf("%s scatters less than it used to: %.0f %% of the usual.", f.Tag, 100*ratio), Numbers: map[string]float64{"ratio": ratio}}}
}
