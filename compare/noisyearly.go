package compare

import (
	"math"

	"bridlewatch/compare/symptom"
)

// Until the usual noise of an instrument is known, the one in its data sheet stands
// for it, where another level in the same liquid is quiet: so an instrument that was
// connected badly from the first hour on is not learned as normal, nor the other one
// taken for its noise (common practice, no source).
const (
	statedTimes = 5.0 // of the standard uncertainty that single readings may scatter by
	statedLeast = 2.0 // mm, that uncertainty where none is stated, at least
	statedSteps = 2.5 // steps of a follower: it goes to and fro between two of them
)

// statedNoise is the standard deviation single readings of a level have at most by
// its data sheet, mm.
func (g *Gauge) statedNoise(c symptom.Channel) float64 {
	u := 0.0
	switch c {
	case symptom.FloatLevel:
		u = mm(g.sheet.Budget.Follower)
	case symptom.TransmitterLevel:
		u = mm(g.sheet.Transmitter.U)
	case symptom.SecondLevel:
		u = mm(g.sheet.Second.U)
	case symptom.VesselLevel:
		u = mm(g.sheet.Vessel.U)
	}
	stated := statedTimes * math.Max(statedLeast, u)
	if c == symptom.FloatLevel {
		stated = math.Max(stated, statedSteps*g.pitch())
	}
	return stated
}

// allowedNoise is how much a level whose usual noise is not known may scatter, mm; 0
// while nothing says: on a well, where waves are in one level and not in another,
// and while no other level on the same side of the connections, or one anywhere,
// is as quiet as one beside that noise.
func (g *Gauge) allowedNoise(at int64, st *State, c symptom.Channel) float64 {
	if st.Noisy[c].Known() || g.sheet.Limits.Gap > 0 || !g.beside(at, st, c) {
		return 0
	}
	allowed := math.Max(g.statedNoise(c), noisyShare*g.scale.Size)
	for o := range symptom.Channels {
		if o != c && g.witnessed(at, st, c, o) && !st.Noisy[o].Keeps(math.Max(allowed, st.Noisy[c].Now)) {
			return 0
		}
	}
	return allowed
}

// usualNoise is what single readings of a level usually scatter by, or by its data
// sheet while nothing is learned, mm.
func (g *Gauge) usualNoise(st *State, c symptom.Channel) float64 {
	if n := &st.Noisy[c]; n.Learned() {
		return n.Usually()
	}
	return g.statedNoise(c)
}
