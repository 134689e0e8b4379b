package compare

import (
	"math"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// burstSigns says where a radar reads high again and again, each time for a
// while: foam that has come to stay.
func (g *Gauge) burstSigns(at int64, st *State, list []sign) []sign {
	for _, p := range [...]gauge.Pair{gauge.FloatTransmitter, gauge.FloatSecond} {
		gap := &st.Gaps[p]
		_, c := symptom.Members(p)
		if st.suspects()&bit(symptom.FloatLevel) != 0 {
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

// noiseSigns says which transmitter lost, or gained, the scatter it always had.
// Scatter comes and goes with the process too: the sign is shown and not
// announced. The frozen output it may herald has a sign of its own.
func (g *Gauge) noiseSigns(at int64, st *State, list []sign) []sign {
	for c := symptom.TransmitterLevel; c <= symptom.SecondLevel; c++ {
		if !g.has(c) {
			continue
		}
		lost, grown, worst := g.scatter(st, c)
		if !lost && !grown {
			continue
		}
		n := &st.Noise[worst]
		s := sign{group: Scatter, index: int(c)}
		s.Symptom = symptom.Symptom{Kind: symptom.NoiseLost, Pair: worst, Point: -1, Since: unix(n.Lost.Onset), Found: unix(at), Nats: n.Lost.Sum}
		if !lost {
			s.Kind, s.Since, s.Nats = symptom.NoiseGrown, unix(n.Grown.Onset), n.Grown.Sum
		}
		list = append(list, s)
	}
	return list
}

// finePitch is the coarsest step of a follower beside which the noise of a
// transmitter can be seen, mm.
const finePitch = 2.0

// scatter reports whether every pair of a channel lost its scatter, or every
// one gained it, while the pairs without the channel did not.
func (g *Gauge) scatter(st *State, c symptom.Channel) (lost, grown bool, worst gauge.Pair) {
	lost, grown, worst = true, true, gauge.Pairs
	for _, p := range g.pairs {
		n := &st.Noise[p]
		if n.Usual == 0 || g.pitchOf(p) > finePitch {
			continue // the steps of a reed chain are scatter of their own
		}
		if a, b := symptom.Members(p); a != c && b != c {
			lost, grown = lost && !n.IsLost(), grown && !n.IsGrown()
			continue
		}
		lost, grown, worst = lost && n.IsLost(), grown && n.IsGrown(), p
	}
	if worst == gauge.Pairs {
		return false, false, worst
	}
	return lost, grown, worst
}

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
	gap := &st.Gaps[gauge.FloatTransmitter]
	follows := g.has(symptom.TransmitterLevel) && gap.LastAt != 0 && math.Abs(gap.Last-shift) < math.Max(4, 0.35*math.Abs(shift))
	return shift, n, n >= 2 && most-least < math.Max(6, 0.4*math.Abs(shift)) || follows
}
