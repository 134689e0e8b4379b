package compare

import (
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/shape"
)

// coupled reports whether a hypothesis disturbs several levels at once, so that
// it cannot be judged beside another one by its own level alone.
func (g *Gauge) coupled(h *cause.Hypothesis) bool {
	return h.Cause == cause.DensityWrong && g.sheet.Fluid.Upper == nil
}

// densityMost is the relative error up to which a density is taken for one of
// two faults: a float that stands low parts from a dp as in a far lighter liquid.
const densityMost = 2 * densityPrior

// oneSubstance is the half width of the range in service below which a liquid is
// one substance and no product among others, such as a sea (common practice, no
// source): what is wrong then is its salt or its temperature.
const oneSubstance = 0.01

// densityUsual is how far the density is off when it is wrong, as a standard
// deviation of the relative error.
func (g *Gauge) densityUsual() float64 {
	half := (g.sheet.SGMax - g.sheet.SGMin) / (g.sheet.SGMax + g.sheet.SGMin)
	if half > 0 && half < oneSubstance {
		return 2 * half
	}
	return densityPrior
}

// withDensity are the couples of a density that is wrong and an error of one
// level. The density disturbs every level that depends on it, so it is judged by
// the others, taken out of all, and what is left of the one is judged like a
// single fault.
func (g *Gauge) withDensity(at int64, st *State, l *cause.Ledger, x *parting) (list []couple) {
	density := slices.IndexFunc(l.Bank, func(h cause.Hypothesis) bool { return g.coupled(&h) })
	if density < 0 {
		return nil
	}
	for _, c := range x.problem.Channels {
		others := without(x.problem, c)
		if !g.parts(at, st, c, others.Channels...) {
			continue
		}
		by := others.SolveFor(others.Channels[0], shape.Density)
		off := by.Fits[others.Channels[0]][shape.Density]
		if !(off.Nats-by.Healthy > 2*cause.Decisive) || by.Strains(off.Nats) {
			continue // those that remain do not part, or not as a density makes them
		}
		relative := off.Size * st.DensityU
		if abs(relative) > densityMost {
			continue
		}
		left := x.problem.AtDensity(&off)
		s := left.SolveFor(c)
		price := math.Log(math.Max(2, float64(s.Marks)*left.PerMark)) + offNats(relative, g.densityUsual())
		for i := range l.Bank {
			h := &l.Bank[i]
			if i == density || seenAt(h) != c {
				continue
			}
			if fit := g.score(st, h, &s) - price; !math.IsInf(fit, -1) && !math.IsNaN(fit) {
				list = append(list, couple{density, i, fit, temper*fit + l.Both(x.line, density, i) + g.byTrips(st, h, &s)})
			}
		}
	}
	return list
}
