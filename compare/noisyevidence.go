package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// suspectsOf is the bank a contradiction of levels is weighed with: an instrument
// that is noisy is one of its causes.
func (g *Gauge) suspectsOf(st *State) []cause.Hypothesis {
	bank := g.bank
	for c := range symptom.Channels {
		if st.Loud&bit(c) != 0 {
			bank = append(bank[:len(bank):len(bank)], cause.Noisy(&g.sheet, c))
		}
	}
	return bank
}

// noisyEvidence enters who is noisy into the ledger of a contradiction.
func (g *Gauge) noisyEvidence(at int64, st *State, l *cause.Ledger) {
	for c := range symptom.Channels {
		if st.Loud&bit(c) != 0 {
			l.Add(g.noisyLine(at, st, c), func(h *cause.Hypothesis) float64 {
				if h.Channel == c && (noisyCause(h.Cause) || h.Cause == cause.RadarDisturbed) {
					return noisyNats(&st.Noisy[c])
				}
				return 0
			})
			g.liftEvidence(at, st, l, c)
		}
	}
}

// noisyNats is what the noise itself weighs: as much as its blocks, to a bound.
func noisyNats(n *symptom.Noisy) float64 { return math.Min(n.Louds/2, 6) }

func noisyCause(c cause.Cause) bool {
	return c == cause.TransmitterNoisy || c == cause.FollowerNoisy || c == cause.VesselNoisy
}

// noisyLine says by how much a level goes to and fro, and since when.
func (g *Gauge) noisyLine(at int64, st *State, c symptom.Channel) cause.Evidence {
	n := &st.Noisy[c]
	usual, before := g.usualNoise(st, c), "they used to by %.1f mm."
	if !n.Learned() {
		before = "its data sheet allows %.0f mm."
	}
	return cause.Evidence{From: unix(n.Since), To: unix(at), Excitation: fmt.Sprintf("%.0f of %.0f blocks of readings", n.Louds, n.All),
		Sentence: fmt.Sprintf("Single readings of %s scatter by %.0f mm (standard deviation), "+before, g.named(c), n.Size, usual),
		Numbers:  map[string]float64{"scatter_mm": n.Size, "usual_mm": usual, "blocks": n.All, "loud": n.Louds}}
}

// named is how a sentence calls an instrument with its tag.
func (g *Gauge) named(c symptom.Channel) string {
	switch c {
	case symptom.FloatLevel:
		return "float " + g.tag(c)
	case symptom.VesselLevel:
		return "vessel level " + g.tag(c)
	}
	return "transmitter " + g.tag(c)
}

// blameNoisy weighs what makes one level go to and fro: the instrument, foam
// under a radar, or the liquid.
func (g *Gauge) blameNoisy(at int64, st *State, e *Episode) {
	f, c := &e.Finding, symptom.Channel(e.Index)
	n, l := &st.Noisy[c], cause.NewLedger(cause.Restless(&g.sheet, c))
	if n.Since != 0 {
		l.Add(g.noisyLine(at, st, c), func(h *cause.Hypothesis) float64 {
			if h.Cause == cause.Unknown {
				return 0
			}
			return noisyNats(n)
		})
		g.quietEvidence(at, st, l, c)
		g.liftEvidence(at, st, l, c)
	}
	if n := g.bursts(st, c); n >= burstWatch {
		l.Add(cause.Evidence{From: f.Since, To: unix(e.Active), Sentence: fmt.Sprintf("%s read high and came back %.0f times within about a week.", g.tag(c), n), Numbers: map[string]float64{"bursts": n}},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.RadarDisturbed {
					return 2 * n
				}
				return 0
			})
	}
	if len(l.Lines) == 0 {
		return // nothing new: what was said stays
	}
	ranked := l.Rank()
	f.Evidence, f.Set = l.Lines, cause.Remaining(ranked)
	name, by, tag := cause.Name(ranked)
	g.rename(at, e, Name{name, by, tag}, ranked)
}

// quietEvidence enters which other levels keep the scatter they always had. One
// that sees the same surface clears it; one beyond the connections hardly does.
func (g *Gauge) quietEvidence(at int64, st *State, l *cause.Ledger, c symptom.Channel) {
	n := &st.Noisy[c]
	for o := range symptom.Channels {
		if o == c || !g.witnessed(at, st, c, o) || !st.Noisy[o].Keeps(n.Size) {
			continue
		}
		w, where, quiet := 4.0, "on the same surface", "stays as quiet as it was"
		if !st.Noisy[o].Known() {
			quiet = "is quiet"
		}
		if g.inChamber(o) != g.inChamber(c) {
			w, where = 0.5, "beyond the chamber's connections"
		}
		l.Add(cause.Evidence{From: unix(n.Since), To: unix(at), Numbers: map[string]float64{"scatter_mm": st.Noisy[o].Now, "usual_mm": g.usualNoise(st, o)},
			Sentence: fmt.Sprintf("The %s, %s, %s: %.1f mm.", g.named(o), where, quiet, st.Noisy[o].Now)},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.SurfaceUnquiet {
					return -w
				}
				return 0
			})
	}
}

// liftEvidence enters whether the readings of a radar stand higher since they
// scatter: foam only ever lifts an echo, noise goes both ways.
func (g *Gauge) liftEvidence(at int64, st *State, l *cause.Ledger, c symptom.Channel) {
	n := &st.Noisy[c]
	if !g.foams(c) || n.Lifts < noisySeen {
		return
	}
	w, sentence := 0.0, ""
	switch u := n.LiftU(); {
	case n.Lift-u >= noisyFoam*n.Size:
		w, sentence = 4, fmt.Sprintf("In the mean it stands %.0f mm higher since: an echo that is lifted.", n.Lift)
	case n.Lift+u <= noisyNoFoam*n.Size:
		w, sentence = -4, fmt.Sprintf("In the mean it stands where it stood, within %.0f mm: foam would lift it.", math.Max(1, abs(n.Lift)))
	default:
		return
	}
	l.Add(cause.Evidence{From: unix(n.Since), To: unix(at), Sentence: sentence, Excitation: fmt.Sprintf("%.0f blocks of readings", n.Lifts), Numbers: map[string]float64{"lift_mm": n.Lift, "u_mm": n.LiftU(), "scatter_mm": n.Size}},
		func(h *cause.Hypothesis) float64 {
			switch {
			case h.Cause == cause.RadarDisturbed && h.Channel == c:
				return w
			case noisyCause(h.Cause) && h.Channel == c:
				return math.Min(0, -w/2) // noise goes both ways
			}
			return 0
		})
}

// What the mean of a radar's readings says about foam (common practice, no source).
const (
	noisySeen   = 6    // blocks it must rest on
	noisyFoam   = 0.5  // standard deviations by which foam lifts an echo in the mean, at least
	noisyNoFoam = 0.25 // within which it does not
)
