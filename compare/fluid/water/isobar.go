package water

import "bridlewatch/compare/quantity"

// Isobar is water at one pressure: liquid and steam of several temperatures.
// What follows from the pressure alone is found once.
type Isobar struct {
	p       quantity.Pressure
	boiling float64 // K; meaningless above the critical pressure
	beta    float64 // fourth root of the pressure in MPa

	// Found when first asked for, 0 before.
	slope        float64          // of the boiling point, K/Pa
	steam        quantity.Density // dry saturated
	permittivity float64          // of that steam
}

// At returns water at a pressure. Whether the formulation holds there is said
// by the densities.
func At(p quantity.Pressure) Isobar {
	i := Isobar{p: p}
	if p > 0 && p <= criticalPressure {
		i.boiling, i.beta = boilingPoint(float64(p))
	}
	return i
}

// Is reports whether the isobar is that of a pressure.
func (i *Isobar) Is(p quantity.Pressure) bool { return i.p == p && p > 0 }

// BoilingPoint returns the temperature water boils at and its slope with
// pressure in K/Pa. Where SaturationTemperature fails, ok is false.
func (i *Isobar) BoilingPoint() (t quantity.Temperature, slope float64, ok bool) {
	if !(i.p >= lowestPressure && i.p <= criticalPressure) {
		return 0, 0, false
	}
	if i.slope == 0 {
		i.slope = saturationSlope(i.boiling, i.beta, float64(i.p))
	}
	return quantity.Temperature(i.boiling), i.slope, true
}

// Liquid returns the density of the liquid, as LiquidDensity does, and its
// slope with temperature in kg/(m3 K). What is above its boiling point has the
// density of boiling liquid and a slope of zero.
func (i *Isobar) Liquid(t quantity.Temperature) (rho quantity.Density, slope float64, err error) {
	if err := checkState(t, i.p); err != nil {
		return 0, 0, err
	}
	T, P, share := float64(t), float64(i.p), 1.0
	if P < criticalPressure && T > i.boiling {
		if T > i.boiling+float64(Superheat) {
			return 0, 0, tooHot(T, i.boiling)
		}
		T, share = i.boiling, 0
	}
	switch {
	case T <= region3Temperature:
		rho, slope = liquid1(T, P)
		return rho, share * slope, nil
	case T >= criticalTemperature:
		return 0, 0, &quantity.RangeError{Model: model, Quantity: "temperature of the liquid", Value: T,
			Low: lowestTemperature, High: criticalTemperature, Unit: "K", Remedy: "there is no liquid above the critical point"}
	}
	rho, err = density3(T, P, liquidSide)
	if err != nil {
		return 0, 0, err
	}
	return rho, share * slope3(float64(rho), T), nil
}

// Steam returns the steam that is really there at a wall of temperature t: its
// own temperature and density. Steam condenses on a wall below the boiling
// point and what is left stays saturated at its pressure.
func (i *Isobar) Steam(t quantity.Temperature) (quantity.Temperature, quantity.Density, error) {
	if i.p >= lowestPressure && i.p <= criticalPressure && float64(t) <= i.boiling {
		rho, err := i.saturatedVapour()
		return quantity.Temperature(i.boiling), rho, err
	}
	rho, err := i.vapour(t)
	return t, rho, err
}

// Permittivity returns that of steam, as Steam gave it.
func (i *Isobar) Permittivity(t quantity.Temperature, rho quantity.Density) (eps float64, err error) {
	if float64(t) != i.boiling {
		return Permittivity(rho, t)
	}
	if i.permittivity == 0 {
		i.permittivity, err = Permittivity(rho, t)
	}
	return i.permittivity, err
}

// vapour is VapourDensity.
func (i *Isobar) vapour(t quantity.Temperature) (quantity.Density, error) {
	if err := checkState(t, i.p); err != nil {
		return 0, err
	}
	T, P := float64(t), float64(i.p)
	if P >= criticalPressure && T < criticalTemperature {
		return 0, noVapour(T, criticalTemperature)
	}
	if T < criticalTemperature && T < i.boiling {
		return subcooledVapour(T, P, i.boiling)
	}
	if T <= region3Temperature || T > border23Temperature || P <= border23Pressure(T) {
		return density2(T, P), nil
	}
	return density3(T, P, vapourSide)
}

// saturatedVapour is SaturatedVapour, where there is any.
func (i *Isobar) saturatedVapour() (rho quantity.Density, err error) {
	if i.steam > 0 {
		return i.steam, nil
	}
	switch T, P := i.boiling, float64(i.p); {
	case T > nearCritical:
		return 0, tooNearCritical(T)
	case T <= region3Temperature+roundOff:
		i.steam = density2(T, P)
	default:
		i.steam, err = density3(T, P, vapourSide)
	}
	return i.steam, err
}
