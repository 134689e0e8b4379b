package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/coverage"
	"bridlewatch/compare/symptom"
)

// smallLeast is the gap that resolution and play make anyway, mm: where no more
// than that can hide nothing is said of it. slowDrift is the drift, mm a month, by
// whose days a larger one is explained.
const (
	smallLeast = 6.0
	slowDrift  = 12.0
)

// smallErrors lists which errors of two levels do not stand out from what a
// healthy gap of theirs does, and what must be measured for them to.
func (g *Gauge) smallErrors(st *State) (list []coverage.BlindSpot) {
	for _, p := range g.pairs {
		a, b := symptom.Members(p)
		hides := math.Min(st.Allow[p].Varies, st.Allow[p].Budget)
		if a == symptom.VesselLevel || !st.Base[p].Known || g.sheet.Limits.Gap > 0 || hides < smallLeast {
			continue
		}
		what, reveals := g.widest(st.Allow[p].Parts)
		list = append(list, coverage.BlindSpot{ID: fmt.Sprintf("small-%s-%s", g.tag(a), g.tag(b)), PossibleNow: true,
			What:    fmt.Sprintf("an error of %s or %s below about %.0f mm at this level that came slowly", g.tag(a), g.tag(b), hides),
			Why:     fmt.Sprintf("%s may change a healthy gap as much; a drift of %.0f mm a month takes %.0f days to pass it", what, slowDrift, hides/slowDrift*month),
			Reveals: reveals})
	}
	return list
}

// widest names the input that may change a gap most, and what would make that
// less.
func (g *Gauge) widest(parts symptom.Varying) (what, reveals string) {
	largest := 0
	for i := range parts {
		if abs(parts[i]) > abs(parts[largest]) {
			largest = i
		}
	}
	switch largest {
	case liquidPart:
		if g.sheet.Densitometer != nil {
			return "the density of the liquid as it is measured", "a smaller uncertainty of the densitometer"
		}
		return "the density of the liquid, which nobody measures,", "a densitometer or a sample when it matters; a smaller budget.density where the product is known better"
	case chamberTemperaturePart:
		return "the temperature of the chamber", "a temperature measured on the chamber, or insulation"
	case legPart:
		return "the temperature of the reference leg", "a temperature measured on the leg"
	}
	return "what stands above the liquid", "pressure and temperature measured there"
}
