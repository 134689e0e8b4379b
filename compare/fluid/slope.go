package fluid

import (
	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// Sloping is a liquid that says how its density changes with temperature.
type Sloping interface {
	// DensitySlope returns what Density returns and its slope with temperature
	// at constant pressure, in kg/(m3 K).
	DensitySlope(quantity.Temperature, quantity.Pressure) (rho quantity.Density, slope float64, err error)
}

// WithSlope returns the slope of a liquid: the derivative of its model where
// the model has one, differences otherwise.
func WithSlope(l Liquid) Sloping {
	if s, ok := l.(Sloping); ok {
		return s
	}
	return differences{l}
}

// differences finds a slope by two densities.
type differences struct{ liquid Liquid }

// slopeStep is the step of a difference. It goes downwards so that a boiling
// liquid stays a liquid.
const slopeStep = 0.05 // K

func (d differences) DensitySlope(t quantity.Temperature, p quantity.Pressure) (quantity.Density, float64, error) {
	at, err := d.liquid.Density(t, p)
	if err != nil {
		return 0, 0, err
	}
	below, err := d.liquid.Density(t-slopeStep, p)
	if err == nil {
		return at, float64(at-below) / slopeStep, nil
	}
	// At the lower end of the model's range.
	above, err := d.liquid.Density(t+slopeStep, p)
	return at, float64(above-at) / slopeStep, err
}

func (waterLiquid) DensitySlope(t quantity.Temperature, p quantity.Pressure) (quantity.Density, float64, error) {
	isobar := water.At(p)
	return isobar.Liquid(t)
}

func (c constant) DensitySlope(quantity.Temperature, quantity.Pressure) (quantity.Density, float64, error) {
	return c.density, 0, nil
}

func (c coefficient) DensitySlope(t quantity.Temperature, p quantity.Pressure) (quantity.Density, float64, error) {
	rho, err := c.Density(t, p)
	return rho, -float64(rho) * c.beta / (1 + c.beta*float64(t-c.temperature)), err
}

func (l polynomial) DensitySlope(t quantity.Temperature, p quantity.Pressure) (quantity.Density, float64, error) {
	rho, err := l.Density(t, p)
	x, slope := float64(t-l.base), 0.0
	for i := len(l.powers) - 1; i >= 1; i-- {
		slope = slope*x + float64(i)*l.powers[i]
	}
	return rho, slope, err
}
