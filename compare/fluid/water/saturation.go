package water

import (
	"math"

	"bridlewatch/compare/quantity"
)

// SaturationPressure returns the pressure water boils at, 273.15 K to the
// critical point at 647.096 K.
func SaturationPressure(t quantity.Temperature) (quantity.Pressure, error) {
	if T := float64(t); !(T >= lowestTemperature && T <= criticalTemperature) {
		return 0, &quantity.RangeError{Model: model, Quantity: "saturation temperature", Value: T,
			Low: lowestTemperature, High: criticalTemperature, Unit: "K", Remedy: "water does not boil at this temperature"}
	}
	return quantity.Pressure(saturationPressure(float64(t))), nil
}

// SaturationTemperature returns the temperature water boils at, 611.213 Pa to
// the critical point at 22.064 MPa.
func SaturationTemperature(p quantity.Pressure) (quantity.Temperature, error) {
	if P := float64(p); !(P >= lowestPressure && P <= criticalPressure) {
		return 0, &quantity.RangeError{Model: model, Quantity: "saturation pressure", Value: P / 1e6,
			Low: lowestPressure / 1e6, High: criticalPressure / 1e6, Unit: "MPa", Remedy: "water does not boil at this pressure"}
	}
	return quantity.Temperature(saturationTemperature(float64(p))), nil
}

// saturationPressure is eq. (30) of R7-97. It continues smoothly beyond the
// critical temperature, where it has no meaning.
func saturationPressure(T float64) float64 {
	n := &region4
	theta := T + n[8]/(T-n[9])
	a := (theta+n[0])*theta + n[1]
	b := (n[2]*theta+n[3])*theta + n[4]
	c := (n[5]*theta+n[6])*theta + n[7]
	root := 2 * c / (-b + math.Sqrt(b*b-4*a*c))
	return root * root * root * root * 1e6
}

// saturationTemperature is eq. (31).
func saturationTemperature(P float64) float64 {
	T, _ := saturation(P)
	return T
}

// saturation is eq. (31) with beta, eq. (29a).
func saturation(P float64) (T, beta float64) {
	n := &region4
	beta = math.Sqrt(math.Sqrt(P / 1e6))
	e := (beta+n[2])*beta + n[5]
	f := (n[0]*beta+n[3])*beta + n[6]
	g := (n[1]*beta+n[4])*beta + n[7]
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	sum := n[9] + d
	return (sum - math.Sqrt(sum*sum-4*(n[8]+n[9]*d))) / 2, beta
}

// saturationSlope is dT/dp of the line that eq. (30) and (31) both solve,
// eq. (29), at a point on it:
// beta² θ² + n1 beta² θ + n2 beta² + n3 beta θ² + n4 beta θ + n5 beta + n6 θ² + n7 θ + n8 = 0.
func saturationSlope(T, beta, P float64) float64 {
	n := &region4
	away := n[8] / (T - n[9])
	theta := T + away
	byBeta := 2*beta*((theta+n[0])*theta+n[1]) + (n[2]*theta+n[3])*theta + n[4]
	byTheta := (2*theta+n[0])*beta*beta + (2*n[2]*theta+n[3])*beta + 2*n[5]*theta + n[6]
	thetaByT := 1 - away*away/n[8]
	return -byBeta * beta / (byTheta * thetaByT * 4 * P)
}

// boilingPoint is the saturation temperature at any pressure below the
// critical one; below the vapour pressure at 0 °C it is that limit, because
// the liquid of this formulation begins there. beta is that of the pressure.
func boilingPoint(P float64) (T, beta float64) {
	if P <= lowestPressure {
		return lowestTemperature, 0
	}
	return saturation(P)
}

// The saturation densities of SR1-86(1992), with theta = 1 - T/Tc. They start
// the solution of region 3.
func saturatedLiquid1986(T float64) float64 {
	third := math.Cbrt(1 - T/criticalTemperature)
	square := third * third
	return criticalDensity * (1 + 1.99274064*third + 1.09965342*square - 0.510839303*math.Pow(third, 5) -
		1.75493479*math.Pow(third, 16) - 45.5170352*math.Pow(third, 43) - 6.74694450e5*math.Pow(third, 110)) // eq. (2)
}

func saturatedVapour1986(T float64) float64 {
	sixth := math.Pow(1-T/criticalTemperature, 1.0/6)
	return criticalDensity * math.Exp(-2.03150240*math.Pow(sixth, 2)-2.68302940*math.Pow(sixth, 4)-
		5.38626492*math.Pow(sixth, 8)-17.2991605*math.Pow(sixth, 18)-44.7586581*math.Pow(sixth, 37)-
		63.9201063*math.Pow(sixth, 71)) // eq. (3)
}
