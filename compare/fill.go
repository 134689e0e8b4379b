package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/symptom"
)

// Behind a plugged upper connection no vapour comes after. Where it condenses
// on the cooler chamber the liquid rises in its place until the chamber is full,
// whatever the vessel does. Behind a closed lower valve no liquid comes after,
// and the level stays where it was.

// fillLeast is how far a chamber must have risen, and stand above every level
// of the vessel meanwhile, to have filled by itself, mm.
const fillLeast = 60.0

// condenses reports whether the vapour above the liquid is that of the liquid.
func (g *Gauge) condenses() bool { return g.sheet.Fluid.Vapour.Model == datasheet.Steam }

// fillEvidence enters that the chamber has filled by itself.
func (g *Gauge) fillEvidence(at int64, st *State, e *Episode, l *cause.Ledger) {
	if !g.condenses() || !g.has(symptom.VesselLevel) {
		return
	}
	onset := e.Finding.Since.Unix()
	marks := st.Hours.Since(onset-hour, nil)
	first, last, top := math.NaN(), math.NaN(), math.Inf(-1)
	for i := range marks {
		chamber, vessel := g.leastInChamber(&marks[i]), float64(marks[i].Level[symptom.VesselLevel])
		if math.IsNaN(chamber) || math.IsNaN(vessel) {
			continue
		}
		if math.IsNaN(first) {
			first = chamber
		}
		last, top = chamber, math.Max(top, vessel)
	}
	if !(last-top > fillLeast) {
		return
	}
	text := fmt.Sprintf("Every level of the chamber stands %.0f mm above the highest the vessel had since %s", last-top, clock(unix(marks[0].At)))
	if last-first > fillLeast {
		text += fmt.Sprintf(" and has risen by %.0f mm", last-first)
	}
	l.Add(cause.Evidence{From: unix(onset), To: unix(at), Numbers: map[string]float64{"above_mm": last - top, "rise_mm": last - first},
		Sentence: text + ": vapour condenses in the chamber and none comes after."},
		func(h *cause.Hypothesis) float64 {
			switch h.Cause {
			case cause.UpperPlug:
				return 2 * cause.Decisive
			case cause.ChamberIsolated, cause.LowerPlug:
				return -2 * cause.Decisive
			}
			return 0
		})
}

// leastInChamber is the lowest level the instruments of the chamber show in a
// mark, mm: a full chamber lifts them all.
func (g *Gauge) leastInChamber(m *symptom.Mark) float64 {
	least := math.NaN()
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		if x := float64(m.Level[c]); g.inChamber(c) && !math.IsNaN(x) && !(x >= least) {
			least = x
		}
	}
	return least
}
