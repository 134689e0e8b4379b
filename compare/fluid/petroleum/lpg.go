package petroleum

import (
	"math"

	"bridlewatch/compare/quantity"
)

// LPG is a liquefied gas or natural gas liquid at saturation, by API MPMS
// 11.2.4: the two reference fluids its relative density lies between, and
// their mixing ratio.
type LPG struct {
	relativeDensity float64
	first, second   *reference
	share           float64 // delta: of the second fluid
	criticalTemp    float64 // K, interpolated
	h2              float64
	saturated60     float64 // X at 60 °F
}

const (
	lpgModel = "API MPMS 11.2.4"
	// waterAt60F is the density of water relative densities refer to, kg/m3.
	waterAt60F     = 999.016
	sixty          = 519.67 / 1.8 // K
	lowestRD       = 0.3500
	highestRD      = 0.6880
	lowestLPGTemp  = 227.15 // K, -46 °C
	highestLPGTemp = 366.15 // K, 93 °C
	roundOff       = 1e-6   // K, what conversion of units may add at a limit
)

// reference is one fluid of 11.2.4, Table 1.
type reference struct {
	name         string
	rd60         float64
	criticalTemp float64 // K
	zc           float64
	criticalMol  float64 // mol/L
	k1           float64
	k2           float64
	k3           float64
	k4           float64
}

var references = [...]reference{
	{"ethane-ethylene 68/32", 0.325022, 298.11, 0.27998, 6.250, 2.54616855327, -0.058244177754, 0.803398090807, -0.745720314137},
	{"ethane", 0.355994, 305.33, 0.28220, 6.870, 1.89113042610, -0.370305782347, -0.544867288720, 0.337876634952},
	{"ethane-propane 65/35", 0.429277, 333.67, 0.28060, 5.615, 2.20970078464, -0.294253708172, -0.405754420098, 0.319443433421},
	{"ethane-propane 35/65", 0.470381, 352.46, 0.27930, 5.110, 2.25341981320, -0.266542138024, -0.372756711655, 0.384734185665},
	{"propane", 0.507025, 369.78, 0.27626, 5.000, 1.96568366933, -0.327662435541, -0.417979702538, 0.303271602831},
	{"i-butane", 0.562827, 407.85, 0.28326, 3.860, 2.04748034410, -0.289734363425, -0.330345036434, 0.291757103132},
	{"n-butane", 0.584127, 425.16, 0.27536, 3.920, 2.03734743118, -0.299059145695, -0.418883095671, 0.380367738748},
	{"i-pentane", 0.624285, 460.44, 0.27026, 3.247, 2.06541640707, -0.238366208840, -0.161440492247, 0.258681568613},
	{"n-pentane", 0.631054, 469.65, 0.27235, 3.200, 2.11263474494, -0.261269413560, -0.291923445075, 0.308344290017},
	{"i-hexane", 0.657167, 498.05, 0.26706, 2.727, 2.02382197871, -0.423550090067, -1.152810982570, 0.950139001678},
	{"n-hexane", 0.664064, 507.35, 0.26762, 2.704, 2.17134547773, -0.232997313405, -0.267019794036, 0.378629524102},
	{"n-heptane", 0.688039, 540.15, 0.26312, 2.315, 2.19773533433, -0.275056764147, -0.447144095029, 0.493770995799},
}

// NewLPG returns the liquefied gas of a relative density at 60 °F.
func NewLPG(relativeDensity float64) (LPG, error) {
	if !(relativeDensity >= lowestRD && relativeDensity <= highestRD) {
		return LPG{}, &quantity.RangeError{Model: lpgModel, Quantity: "relative density at 60 °F", Value: relativeDensity,
			Low: lowestRD, High: highestRD, Unit: "", Remedy: "use the petroleum or the pure model for this liquid"}
	}
	i := 0
	for references[i+1].rd60 < relativeDensity {
		i++
	}
	l := LPG{relativeDensity: relativeDensity, first: &references[i], second: &references[i+1]}
	l.share = (relativeDensity - l.first.rd60) / (l.second.rd60 - l.first.rd60)
	l.criticalTemp = l.first.criticalTemp + l.share*(l.second.criticalTemp-l.first.criticalTemp)
	l.h2 = l.first.zc * l.first.criticalMol / (l.second.zc * l.second.criticalMol)
	l.saturated60 = l.saturated(sixty / l.criticalTemp)
	return l, nil
}

// Density returns the saturation density at a temperature. The pressure
// correction of a compressed liquefied gas is neglected.
func (l LPG) Density(t quantity.Temperature) (quantity.Density, error) {
	ctl, err := l.CTL(t)
	return quantity.Density(l.relativeDensity * waterAt60F * ctl), err
}

// CTL returns the factor from 60 °F to a temperature, unrounded and from the
// temperature as it is: a live density must not move in steps.
func (l LPG) CTL(t quantity.Temperature) (float64, error) {
	T := float64(t)
	if !(T >= lowestLPGTemp-roundOff && T <= highestLPGTemp+roundOff) {
		return 0, &quantity.RangeError{Model: lpgModel, Quantity: "temperature", Value: t.Celsius(), Low: -46, High: 93, Unit: "°C",
			Remedy: "use the pure model for this liquid"}
	}
	if T >= l.criticalTemp {
		return 0, &quantity.RangeError{Model: lpgModel, Quantity: "temperature", Value: t.Celsius(), Low: -46,
			High: l.criticalTemp - float64(quantity.ZeroCelsius), Unit: "°C", Remedy: "there is no liquid above the critical temperature"}
	}
	return l.saturated(T/l.criticalTemp) / l.saturated60, nil
}

// ReportedCTL is the factor as the standard reports it: temperature rounded
// to 0.1 °F and relative density to 0.0001 before, the factor to 0.00001
// after.
func ReportedCTL(t quantity.Temperature, relativeDensity float64) (float64, error) {
	l, err := NewLPG(roundDecimal(relativeDensity, 1e4))
	if err != nil {
		return 0, err
	}
	ctl, err := l.CTL(quantity.Temperature((roundDecimal(fahrenheit(t), 10) + 459.67) / 1.8))
	return roundDecimal(ctl, 1e5), err
}

// roundDecimal rounds to 1/perUnit with ties to even. The tie is that of the
// decimal number as written: 24.95 is not exact in binary, and so the value is
// first brought back to seven further decimals.
func roundDecimal(v, perUnit float64) float64 {
	scaled := v * perUnit
	return math.RoundToEven(math.Round(scaled*1e7)/1e7) / perUnit
}

// saturated is X of step 9: the density of the mixture at a reduced
// temperature, in the unit of the first fluid.
func (l LPG) saturated(tr float64) float64 {
	t := 1 - tr
	t35 := math.Pow(t, 0.35)
	rho1, rho2 := l.first.saturated(t, t35), l.second.saturated(t, t35)
	return rho1 / (1 + l.share*(rho1/(l.h2*rho2)-1))
}

// saturated is the density of one reference fluid in mol/L, with t = 1 - Tr
// and its power 0.35; the power 0.65 is their quotient.
func (r *reference) saturated(t, t35 float64) float64 {
	return r.criticalMol * (1 + (r.k1*t35+t*t*(r.k3+r.k4*t))/(1+r.k2*t/t35))
}
