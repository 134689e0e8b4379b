package compare

import (
	"math"

	"bridlewatch/compare/symptom"
)

// sizes sets how far a witness must go for a move to count where a pair
// scatters: two and a half standard deviations of its ten-minute means, six of its
// single readings. A dead band is play too: within it a float moves and its
// reading does not. Of a noisy instrument only what its noise cannot make is a
// move.
func (g *Gauge) sizes(st *State) {
	for _, p := range g.pairs {
		n := &st.Noise[p]
		scatter := n.Usual
		if scatter == 0 && n.LearnN > 100 {
			scatter = n.LearnSum / n.LearnN
		}
		size := math.Max(2.5*st.Base[p].Scatter(), 6*math.Sqrt(scatter/2))
		a, b := symptom.Members(p)
		if band := math.Max(g.band(st, a), g.band(st, b)); band > 0 {
			size = math.Max(size, math.Min(g.scale.Size, g.scale.Fine+playTimes*band))
		}
		for _, c := range [...]symptom.Channel{a, b} {
			if st.Loud&bit(c) != 0 {
				size = math.Max(size, noisyMoves*st.Noisy[c].Size)
			}
		}
		st.Movement.Sizes[a][b], st.Movement.Sizes[b][a] = size, size
	}
}

// band is the dead band of a channel, mm, beyond the steps its data sheet tells of.
func (g *Gauge) band(st *State, c symptom.Channel) float64 {
	band := st.Exception[c].Band()
	if c == symptom.FloatLevel {
		band -= g.pitch()
	}
	return math.Max(0, band)
}
