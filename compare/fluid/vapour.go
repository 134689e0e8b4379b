package fluid

import (
	"fmt"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// Constants of the gas phase.
const (
	// molarGasConstant is 8.314462618 J/(mol K), exact since the SI of 2019.
	molarGasConstant = 8.31446261815324
	// A stated permittivity holds at 20 °C and the standard atmosphere.
	statedTemperature = 293.15
	statedPressure    = float64(quantity.StandardAtmosphere)
)

// NewVapour returns the gas a data sheet describes.
func NewVapour(v datasheet.Vapour) (Vapour, error) {
	if v.Permittivity != 0 && !(v.Permittivity >= 1 && v.Permittivity < 2) {
		return nil, fmt.Errorf("gas permittivity %g at 20 °C and 101.325 kPa is not between 1 and 2", v.Permittivity)
	}
	z := v.Compressibility
	if z == 0 {
		z = 1
	}
	if !(z >= 0.1 && z <= 2) {
		return nil, fmt.Errorf("compressibility factor Z = %g is not between 0.1 and 2", z)
	}
	switch v.Model {
	case datasheet.NoVapour, "":
		return gas{z: z, polarization: polarization(v.Permittivity)}, nil
	case datasheet.Steam:
		return steam{}, nil
	case datasheet.Gas:
		if !(v.MolarMass >= 0.002 && v.MolarMass <= 0.5) {
			return nil, fmt.Errorf("molar mass %g kg/mol is not between 0.002 and 0.5 kg/mol: was it given in g/mol?", v.MolarMass)
		}
		return gas{v.MolarMass, z, polarization(v.Permittivity)}, nil
	}
	return nil, fmt.Errorf("unknown vapour model %q", v.Model)
}

// gas is a real gas of constant Z: ρ = p M / (Z R T). Without a molar mass
// its density is neglected.
type gas struct {
	molarMass, z float64
	polarization float64 // (ε-1)/(ε+2) at the stated state, Z = 1 there
}

// polarization is the Clausius-Mossotti term of a permittivity.
func polarization(eps float64) float64 {
	if eps == 0 {
		return 0
	}
	return (eps - 1) / (eps + 2)
}

func (g gas) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	if err := checkGas(t, p); err != nil {
		return 0, err
	}
	return quantity.Density(float64(p) * g.molarMass / (g.z * molarGasConstant * float64(t))), nil
}

// Permittivity scales the stated one with density by the Clausius-Mossotti
// relation, (ε-1)/(ε+2) proportional to p/(Z T), which holds for non-polar
// gases.
func (g gas) Permittivity(t quantity.Temperature, p quantity.Pressure) (float64, error) {
	if err := checkGas(t, p); err != nil {
		return 0, err
	}
	c := g.polarization * float64(p) / statedPressure * statedTemperature / float64(t) / g.z
	return (1 + 2*c) / (1 - c), nil
}

func checkGas(t quantity.Temperature, p quantity.Pressure) error {
	if !(t >= 50 && t <= 1500) {
		return &RangeError{Model: "real gas", Quantity: "temperature", Value: float64(t), Low: 50, High: 1500, Unit: "K",
			Remedy: "check the temperature given for the gas"}
	}
	if !(p >= 0 && p <= 50e6) {
		return &RangeError{Model: "real gas", Quantity: "pressure", Value: p.Bar(), Low: 0, High: 500, Unit: "bar(a)",
			Remedy: "a constant Z is no model at this pressure"}
	}
	return nil
}

// steam is steam by IF97. Pure steam cannot be colder than saturation: it
// condenses on the colder wall and what is left stays saturated at its
// pressure, so below the boiling point that state is taken.
type steam struct{}

func (steam) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	_, rho, err := steamState(t, p)
	return rho, err
}

func (steam) Permittivity(t quantity.Temperature, p quantity.Pressure) (float64, error) {
	t, rho, err := steamState(t, p)
	if err != nil {
		return 0, err
	}
	return water.Permittivity(rho, t)
}

// steamState is the temperature and density the steam really has.
func steamState(t quantity.Temperature, p quantity.Pressure) (quantity.Temperature, quantity.Density, error) {
	boiling, err := water.SaturationTemperature(p)
	if err == nil && t <= boiling {
		rho, err := water.SaturatedVapour(p)
		return boiling, rho, err
	}
	rho, err := water.VapourDensity(t, p)
	return t, rho, err
}
