package petroleum

import (
	"math"

	"bridlewatch/compare/quantity"
)

// Oil is a petroleum liquid known by its group and its density at 60 °F.
type Oil struct {
	group Group
	rho60 float64
	star  float64 // ρ*
	alpha float64 // α60
}

// Factors are the correction factors of one state.
type Factors struct {
	Alpha60 float64 // 1/°F
	Fp      float64 // 1e-5/psi
	CTL     float64
	CPL     float64
}

// CTPL is the factor for temperature and pressure together, unrounded. The
// standard reports it rounded to 0.00001.
func (f Factors) CTPL() float64 { return f.CTL * f.CPL }

// Constants of 11.1.5.
const (
	delta60  = 0.01374979547 // °F, 60 °F between the scales
	base68   = 60.0068749    // °F, 60 °F on IPTS-68
	kPaToPsi = 1 / 6.894757  // the standard's own factor
)

// New returns the oil of a density at a base temperature: 60 °F (alpha60 is
// for group C only), 15 °C, 20 °C or any other in range.
func New(g Group, base quantity.Density, at quantity.Temperature, alpha60 float64) (Oil, error) {
	if err := g.check(alpha60); err != nil {
		return Oil{}, err
	}
	if math.Abs(fahrenheit(at)-60) < 1e-9 {
		return g.oil(float64(base), alpha60)
	}
	return Observed(g, base, at, 0, alpha60)
}

// check refuses a group or an expansion the standard does not know.
func (g Group) check(alpha60 float64) error {
	switch {
	case g < Crude || g > Lubricating:
		return &quantity.RangeError{Model: model, Quantity: "group", Value: float64(g), Low: float64(Crude), High: float64(Lubricating), Remedy: "use ParseGroup"}
	case g == Special && !(alpha60 >= lowestAlpha && alpha60 <= highestAlpha):
		return &quantity.RangeError{Model: model, Quantity: "thermal expansion at 60 °F", Value: alpha60, Low: lowestAlpha, High: highestAlpha,
			Unit: "1/°F", Remedy: "group C takes its expansion from the data sheet, per degree Fahrenheit"}
	}
	return nil
}

func (g Group) oil(rho60, alpha60 float64) (Oil, error) {
	if !(rho60 >= g.lowestBase() && rho60 <= highestBase) {
		return Oil{}, g.refuseBase(rho60)
	}
	return g.oilUnchecked(rho60, alpha60), nil
}

// oilUnchecked is steps 2 and 3 of 11.1.6.1: the density and expansion on the
// scale of IPTS-68.
func (g Group) oilUnchecked(rho60, alpha60 float64) Oil {
	if g == Special {
		star := rho60 * math.Exp(0.5*alpha60*delta60*(1+0.4*alpha60*delta60))
		return Oil{g, rho60, star, alpha60}
	}
	k := g.commodity(rho60)
	a := delta60 / 2 * ((k.k0/rho60+k.k1)/rho60 + k.k2)
	b := (2*k.k0 + k.k1*rho60) / (k.k0 + (k.k1+k.k2*rho60)*rho60)
	star := rho60 * (1 + (math.Exp(a*(1+0.8*a))-1)/(1+a*(1+1.6*a)*b))
	return Oil{g, rho60, star, (k.k0/star+k.k1)/star + k.k2}
}

// BaseDensity returns the density at zero gauge pressure and a base
// temperature: 60 °F, 15 °C or 20 °C.
func (o Oil) BaseDensity(at quantity.Temperature) (quantity.Density, error) { return o.Density(at, 0) }

// Density returns the density at a temperature and gauge pressure.
func (o Oil) Density(t quantity.Temperature, gauge quantity.PressureDifference) (quantity.Density, error) {
	f, err := o.Factors(t, gauge)
	return quantity.Density(o.rho60 * f.CTPL()), err
}

// Factors returns the correction factors from 60 °F and zero gauge pressure
// to a temperature and gauge pressure.
func (o Oil) Factors(t quantity.Temperature, gauge quantity.PressureDifference) (Factors, error) {
	F, psig, err := checkState(t, gauge)
	if err != nil {
		return Factors{}, err
	}
	return o.factors(F, psig), nil
}

// FactorsFrom returns the factors from another base temperature. CPL is that
// of 60 °F; only CTL changes (11.1.7.1).
func (o Oil) FactorsFrom(base, t quantity.Temperature, gauge quantity.PressureDifference) (Factors, error) {
	f, err := o.Factors(t, gauge)
	if err != nil {
		return Factors{}, err
	}
	atBase, err := o.Factors(base, 0)
	if err != nil {
		return Factors{}, err
	}
	f.CTL /= atBase.CTL
	return f, nil
}

// factors is steps 3 to 5 of 11.1.6.1.
func (o Oil) factors(F, psig float64) Factors {
	star := toIPTS68(F)
	dT := star - base68
	ctl := math.Exp(-o.alpha * dT * (1 + 0.8*o.alpha*(dT+delta60)))
	fp := math.Exp(-1.9947 + 0.00013427*star + (793920+2326*star)/(o.star*o.star))
	return Factors{o.alpha, fp, ctl, 1 / (1 - 1e-5*fp*psig)}
}

// checkState converts to the standard's units. A gauge pressure below zero
// counts as zero.
func checkState(t quantity.Temperature, gauge quantity.PressureDifference) (F, psig float64, err error) {
	const slack = 1e-7 // what unit conversion may add at a limit
	F, psig = fahrenheit(t), float64(gauge)/1e3*kPaToPsi
	if !(F >= -58-slack && F <= 302+slack) {
		return 0, 0, &quantity.RangeError{Model: model, Quantity: "temperature", Value: t.Celsius(), Low: -50, High: 150, Unit: "°C",
			Remedy: "give the density by a table"}
	}
	if !(psig <= 1500+1e-3) {
		return 0, 0, &quantity.RangeError{Model: model, Quantity: "gauge pressure", Value: float64(gauge) / 1e5, Low: 0, High: 103.4214, Unit: "bar",
			Remedy: "give the density by a table with pressures"}
	}
	return F, max(psig, 0), nil
}

func fahrenheit(t quantity.Temperature) float64 { return float64(t)*1.8 - 459.67 }

// toIPTS68 is step 1 of 11.1.6.1: from ITS-90 to IPTS-68, both in °F.
func toIPTS68(F float64) float64 {
	c := (F - 32) / 1.8
	tau, d := c/630, 0.0
	for i := len(scale68) - 1; i >= 0; i-- {
		d = (d + scale68[i]) * tau
	}
	return 1.8*(c-d) + 32
}

var scale68 = [...]float64{-0.148759, -0.267408, 1.080760, 1.269056, -4.089591, -1.871251, 7.438081, -3.536296}
