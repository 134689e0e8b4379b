package fluid

import (
	"fmt"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// RangeError says that a value lies outside the range of a model.
type RangeError = quantity.RangeError

// Liquid is the liquid of a data sheet.
type Liquid interface {
	// Density returns the density at a temperature and absolute pressure. It
	// does not allocate unless it fails, and fails with a *RangeError.
	Density(quantity.Temperature, quantity.Pressure) (quantity.Density, error)
	// RelativeU is the standard uncertainty of the density, as a fraction of
	// it, with temperature and pressure known exactly.
	RelativeU() float64
	// Basis names the model and its source, for people.
	Basis() string
}

// Vapour is the gas above the liquid.
type Vapour interface {
	Density(quantity.Temperature, quantity.Pressure) (quantity.Density, error)
	// Permittivity is relative to vacuum.
	Permittivity(quantity.Temperature, quantity.Pressure) (float64, error)
}

// Standard uncertainties of the models where the data sheet states none. They
// are common practice, no source; for the formulations they contain what
// their publishers claim.
const (
	uWater       = 1e-4
	uPetroleum   = 1e-3
	uLPG         = 3e-3
	uPure        = 5e-3
	uTable       = 5e-3
	uPolynomial  = 5e-3
	uCoefficient = 1e-2
	uMixing      = 1e-2 // of an ideal mixture, beside its parts
	uConstant    = 2e-2
	uMeasured    = 1e-3
)

// New returns the liquid a data sheet describes. The error says which entry
// of the data sheet is wrong.
func New(f datasheet.Fluid) (Liquid, error) {
	l, err := newLiquid(f)
	if err != nil {
		return nil, fmt.Errorf("fluid %q: %w", f.Name, err)
	}
	return l, nil
}

func newLiquid(f datasheet.Fluid) (Liquid, error) {
	switch f.Model {
	case datasheet.Water:
		return waterLiquid{known(f, uWater, "IAPWS-IF97 (R7-97(2012))")}, nil
	case datasheet.Petroleum:
		return newPetroleum(f)
	case datasheet.LPG:
		return newLPG(f)
	case datasheet.Pure:
		return newPure(f)
	case datasheet.Table:
		return newTable(f)
	case datasheet.Coefficient:
		return newCoefficient(f)
	case datasheet.Polynomial:
		return newPolynomial(f)
	case datasheet.Blend:
		return newBlend(f)
	case datasheet.Constant:
		return newConstant(f)
	case datasheet.Measured:
		return newMeasured(f)
	}
	return nil, fmt.Errorf("unknown density model %q", f.Model)
}

// model is what every liquid knows about itself.
type model struct {
	relativeU float64
	basis     string
}

func (m model) RelativeU() float64 { return m.relativeU }
func (m model) Basis() string      { return m.basis }

func known(f datasheet.Fluid, usual float64, basis string) model {
	if f.RelativeU > 0 {
		return model{f.RelativeU, basis}
	}
	return model{usual, basis}
}

// waterLiquid is water by IF97.
type waterLiquid struct{ model }

func (waterLiquid) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	return water.LiquidDensity(t, p)
}
