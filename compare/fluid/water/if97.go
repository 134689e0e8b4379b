package water

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// Limits and constants of R7-97(2012).
const (
	gasConstant         = 461.526      // J/(kg K), eq. (1)
	criticalTemperature = 647.096      // K, eq. (2)
	criticalPressure    = 22.064e6     // Pa, eq. (3)
	criticalDensity     = 322.0        // kg/m3, eq. (4)
	lowestTemperature   = 273.15       // K, section 3
	region3Temperature  = 623.15       // K: above, region 3 lies between 1 and 2
	border23Temperature = 863.15       // K: above, region 2 reaches 100 MPa
	highestTemperature  = 1073.15      // K
	highestPressure     = 100e6        // Pa
	lowestPressure      = 611.2126     // Pa: just below saturation at 273.15 K, eq. (30)
	region3Pressure     = 16.5291643e6 // Pa: saturation at 623.15 K
	roundOff            = 1e-6         // K: what solving for the temperature may add at a border
	nearCritical        = 647.0        // K: no saturated density above
)

// Superheat is how far a liquid may be above its boiling point before its
// density is refused: a measured pair of pressure and temperature scatters
// about saturation, but liquid hotter than this does not exist in a vessel.
const Superheat quantity.TemperatureDifference = 5

const (
	model             = "IAPWS-IF97"
	checkInstruments  = "check the pressure and temperature given for the fluid"
	useAnotherDensity = "give the density by a table or a constant instead"
)

// Density returns the density of the stable phase at a temperature and
// pressure; on the saturation line that of the liquid.
func Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	if err := checkState(t, p); err != nil {
		return 0, err
	}
	T, P := float64(t), float64(p)
	switch {
	case T <= region3Temperature:
		if P >= saturationPressure(T) {
			return density1(T, P), nil
		}
		return density2(T, P), nil
	case T > border23Temperature || P <= border23Pressure(T):
		return density2(T, P), nil
	case T >= criticalTemperature || P >= saturationPressure(T):
		return density3(T, P, liquidSide)
	}
	return density3(T, P, vapourSide)
}

// LiquidDensity returns the density of the liquid. Up to Superheat above the
// boiling point it is that of the boiling liquid: there the two measurements
// do not quite agree, and the pressure is the better one. Above the critical
// temperature there is no liquid.
func LiquidDensity(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	i := At(p)
	rho, _, err := i.Liquid(t)
	return rho, err
}

func tooHot(T, boiling float64) error {
	return &quantity.RangeError{Model: model, Quantity: "temperature of the liquid", Value: T,
		Low: lowestTemperature, High: boiling + float64(Superheat), Unit: "K",
		Remedy: fmt.Sprintf("water boils at %.2f K at this pressure; %s", boiling, checkInstruments)}
}

// VapourDensity returns the density of steam. Below the boiling point of its
// pressure it is that of the metastable vapour by the supplementary equation
// of R7-97, as far as subcooling allows, and refused beyond. Steam at the wall
// of a colder chamber condenses and what is left stays at saturation: use
// SaturatedVapour for that.
func VapourDensity(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	i := At(p)
	return i.vapour(t)
}

const metastablePressure = 10e6 // Pa, R7-97, section 6.2

// subcooling is how far below its boiling point metastable steam is given. The
// supplementary equation holds to 5 % equilibrium moisture; 5 % of the heat of
// evaporation over the heat capacity of the vapour is 25 K up to 2 MPa and
// falls to 10 K at 10 MPa (own estimate).
func subcooling(P float64) float64 {
	return 25 - 15*max(0, (P-2e6)/8e6)
}

func subcooledVapour(T, P, boiling float64) (quantity.Density, error) {
	low := boiling
	if P <= metastablePressure {
		low -= subcooling(P)
	}
	if T < low {
		return 0, noVapour(T, low)
	}
	return densityMetastable(T, P), nil
}

func noVapour(T, low float64) error {
	return &quantity.RangeError{Model: model, Quantity: "temperature of the steam", Value: T,
		Low: low, High: highestTemperature, Unit: "K", Remedy: "steam condenses at this pressure; " + checkInstruments}
}

// SaturatedLiquid returns the density of boiling water at a pressure.
func SaturatedLiquid(p quantity.Pressure) (quantity.Density, error) {
	t, err := saturatedState(p)
	if err != nil {
		return 0, err
	}
	if t <= region3Temperature+roundOff {
		return density1(float64(t), float64(p)), nil
	}
	return density3(float64(t), float64(p), liquidSide)
}

// SaturatedVapour returns the density of dry saturated steam at a pressure.
func SaturatedVapour(p quantity.Pressure) (quantity.Density, error) {
	if _, err := saturatedState(p); err != nil {
		return 0, err
	}
	i := At(p)
	return i.saturatedVapour()
}

func saturatedState(p quantity.Pressure) (quantity.Temperature, error) {
	t, err := SaturationTemperature(p)
	if err == nil && t > nearCritical {
		err = tooNearCritical(float64(t))
	}
	return t, err
}

func tooNearCritical(T float64) error {
	return &quantity.RangeError{Model: model, Quantity: "saturation temperature", Value: T, Low: lowestTemperature, High: nearCritical,
		Unit: "K", Remedy: "so close to the critical point density does not follow from pressure and temperature"}
}

// checkState refuses a state outside regions 1 to 4. It is false for NaN too.
func checkState(t quantity.Temperature, p quantity.Pressure) error {
	if T := float64(t); !(T >= lowestTemperature && T <= highestTemperature) {
		return &quantity.RangeError{Model: model, Quantity: "temperature", Value: T, Low: lowestTemperature,
			High: highestTemperature, Unit: "K", Remedy: useAnotherDensity}
	}
	if P := float64(p); !(P > 0 && P <= highestPressure) {
		return &quantity.RangeError{Model: model, Quantity: "pressure", Value: P / 1e6, Low: 0, High: highestPressure / 1e6,
			Unit: "MPa", Remedy: checkInstruments}
	}
	return nil
}

const region1Star = 16.53e6 // Pa, eq. (7)

// density1 is region 1: v = (R T / p) pi gamma_pi, Table 3 of R7-97.
func density1(T, P float64) quantity.Density {
	rho, _ := liquid1(T, P)
	return rho
}

// liquid1 is region 1 with the slope of the density with temperature:
// dv/dT = (R / p) pi (gamma_pi - tau gamma_pitau), Table 3.
func liquid1(T, P float64) (rho quantity.Density, slope float64) {
	tau := 1386 / T
	gammaPi, gammaPiTau := gammaPi1(7.1-P/region1Star, tau-1.222)
	each := 1 / (T * gammaPi)
	rho = region1Star / gasConstant * quantity.Density(each)
	return rho, -float64(rho) * each * (gammaPi - tau*gammaPiTau)
}

// density2 is region 2, Table 12.
func density2(T, P float64) quantity.Density {
	pi := P / 1e6 // eq. (16)
	return quantity.Density(P / (gasConstant * T * (1 + pi*gammaPi2(pi, 540/T-0.5))))
}

// densityMetastable is the supplementary equation (18) for metastable vapour.
func densityMetastable(T, P float64) quantity.Density {
	pi, tau := P/1e6, 540/T
	gamma := 0.0
	for _, t := range metastable {
		gamma += t.n * float64(t.i) * math.Pow(pi, float64(t.i-1)) * math.Pow(tau-0.5, float64(t.j))
	}
	return quantity.Density(P / (gasConstant * T * (1 + pi*gamma)))
}

// border23Pressure is the border between regions 2 and 3, eq. (5).
func border23Pressure(T float64) float64 {
	return (border23[0] + (border23[1]+border23[2]*T)*T) * 1e6
}

// border23TemperatureAt is its inverse, eq. (6).
func border23TemperatureAt(P float64) float64 {
	return border23[3] + math.Sqrt((P/1e6-border23[4])/border23[2])
}
