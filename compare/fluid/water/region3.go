package water

import (
	"math"

	"bridlewatch/compare/quantity"
)

// side says on which side of the critical density a root is wanted. Below
// the critical temperature the equation of region 3 has three.
type side uint8

const (
	liquidSide side = iota
	vapourSide
)

// Densities that enclose region 3, kg/m3: at 623.15 K and 100 MPa it is
// 762, at 863.15 K and 16.5 MPa below 50.
const (
	thinnest3 = 40
	densest3  = 790
)

// pressure3 returns p(ρ, T) of region 3 and its derivative by ρ, Table 31 of
// R7-97: p = ρ R T δ φ_δ.
func pressure3(rho, T float64) (p, slope float64) {
	delta, tau := rho/criticalDensity, criticalTemperature/T
	phi := region3Logarithm / delta // φ_δ, Table 32
	phi2 := -phi / delta            // φ_δδ
	deltas, taus := powersOf(delta, 11), powersOf(tau, 26)
	for i := range region3 {
		t := &region3[i]
		term := t.n * float64(t.i) * deltas[t.i-1] * taus[t.j]
		phi += term
		phi2 += term * float64(t.i-1) / delta
	}
	p = rho * gasConstant * T * delta * phi
	return p, gasConstant * T * delta * (2*phi + delta*phi2)
}

// slope3 is the slope of the density of region 3 with temperature at constant
// pressure, -(dp/dT) / (dp/drho), with Table 31: dp/dT = ρ R δ (φ_δ - τ φ_δτ).
func slope3(rho, T float64) float64 {
	delta, tau := rho/criticalDensity, criticalTemperature/T
	phi, mixed := region3Logarithm/delta, 0.0 // φ_δ and τ φ_δτ, Table 32
	deltas, taus := powersOf(delta, 11), powersOf(tau, 26)
	for i := range region3 {
		t := &region3[i]
		term := t.n * float64(t.i) * deltas[t.i-1] * taus[t.j]
		phi += term
		mixed += term * float64(t.j)
	}
	_, byDensity := pressure3(rho, T)
	return -rho * gasConstant * delta * (phi - mixed) / byDensity
}

func powersOf(x float64, highest int) (p [27]float64) {
	p[0] = 1
	for i := 1; i <= highest; i++ {
		p[i] = p[i-1] * x
	}
	return p
}

// density3 solves p(ρ, T) = P for the density on one side.
func density3(T, P float64, s side) (quantity.Density, error) {
	low, high := float64(thinnest3), float64(densest3)
	if T < criticalTemperature {
		if T > nearCritical && math.Abs(P/saturationPressure(T)-1) < 1e-3 {
			return 0, tooNearCritical(T)
		}
		low, high = bracket3(T, s)
	}
	start := (low + high) / 2
	rho, ok := solve3(T, P, low, start, high)
	if !ok {
		return 0, &quantity.RangeError{Model: model, Quantity: "pressure", Value: P / 1e6, Low: region3Pressure / 1e6,
			High: highestPressure / 1e6, Unit: "MPa", Remedy: "no density of region 3 has this pressure at this temperature; " + checkInstruments}
	}
	return quantity.Density(rho), nil
}

// bracket3 encloses the wanted root below the critical temperature: it goes
// from a quarter of the way inside the two-phase dome, where the branch is
// still rising, to the edge of the region.
func bracket3(T float64, s side) (low, high float64) {
	if s == liquidSide {
		edge := saturatedLiquid1986(T)
		return edge - (edge-criticalDensity)/4, densest3
	}
	edge := saturatedVapour1986(T)
	return thinnest3, edge + (criticalDensity-edge)/4
}

// solve3 is Newton's method kept inside a bracket by bisection. The bracket
// shrinks with every step, so it ends.
func solve3(T, P, low, start, high float64) (rho float64, ok bool) {
	if pLow, _ := pressure3(low, T); pLow > P {
		return 0, false
	}
	if pHigh, _ := pressure3(high, T); pHigh < P {
		return 0, false
	}
	rho = start
	for range 200 {
		p, slope := pressure3(rho, T)
		if p < P {
			low = rho
		} else {
			high = rho
		}
		next := rho - (p-P)/slope
		if !(slope > 0 && next > low && next < high) {
			next = (low + high) / 2
		}
		if math.Abs(next-rho) < 1e-11*rho {
			return next, true
		}
		rho = next
	}
	return rho, high-low < 1e-9*rho
}
