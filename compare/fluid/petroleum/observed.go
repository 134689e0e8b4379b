package petroleum

import (
	"math"

	"bridlewatch/compare/quantity"
)

// Observed returns the oil that has a density at a temperature and gauge
// pressure: the way from an observed density to the base (11.1.6.2), by
// Newton's method with the standard's approximate derivatives. The part of
// group B is chosen anew in every pass.
func Observed(g Group, rho quantity.Density, t quantity.Temperature, gauge quantity.PressureDifference, alpha60 float64) (Oil, error) {
	if err := g.check(alpha60); err != nil {
		return Oil{}, err
	}
	F, psig, err := checkState(t, gauge)
	if err != nil {
		return Oil{}, err
	}
	target := float64(rho)
	if low, high := g.observedRange(); !(target >= low && target <= high) {
		return Oil{}, &quantity.RangeError{Model: model, Quantity: "observed density of " + g.String(), Value: target, Low: low, High: high,
			Unit: "kg/m3", Remedy: "check the group and the density"}
	}
	rho60, ok := g.solve(target, F, psig, alpha60)
	if !ok {
		return Oil{}, g.refuseBase(rho60)
	}
	return g.oil(rho60, alpha60)
}

// The standard stops at 1e-6 kg/m3 and gives up after 15 passes. Here the
// passes go on until the density is found to the precision of the numbers.
const (
	observedStop   = 1e-9 // kg/m3
	observedPasses = 50
)

func (g Group) solve(target, F, psig, alpha60 float64) (rho60 float64, ok bool) {
	low, high := g.lowestBase(), float64(highestBase)
	rho60 = min(max(target, low), high)
	for range observedPasses {
		o := g.oilUnchecked(rho60, alpha60)
		f := o.factors(F, psig)
		if math.Abs(target-rho60*f.CTPL()) < observedStop {
			return rho60, true
		}
		next := rho60 + g.step(o, f, target, F, psig)
		if outside := min(max(next, low), high); outside != next && outside == rho60 {
			return next, false // pressed against the limit
		}
		rho60 = min(max(next, low), high)
	}
	return rho60, math.Abs(target-rho60*g.oilUnchecked(rho60, alpha60).factors(F, psig).CTPL()) < 1e-6
}

// step is the correction of one pass.
func (g Group) step(o Oil, f Factors, target, F, psig float64) float64 {
	dT := F - 60
	residual := target/f.CTPL() - o.rho60
	byTemperature := g.commodity(o.rho60).dAlpha * o.alpha * dT * (1 + 1.6*o.alpha*dT)
	byPressure := 2 * f.CPL * psig * f.Fp * (7.93920 + 0.02326*F) / (o.rho60 * o.rho60)
	return residual / (1 + byTemperature + byPressure)
}
