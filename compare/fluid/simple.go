package fluid

import (
	"errors"
	"fmt"
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// constant is one density entered by somebody, at any state.
type constant struct {
	model
	density quantity.Density
}

func newConstant(f datasheet.Fluid) (Liquid, error) {
	if !positive(float64(f.BaseDensity)) {
		return nil, errors.New("a constant density needs a base density above zero")
	}
	return constant{known(f, uConstant, "constant density, as entered"), f.BaseDensity}, nil
}

func (c constant) Density(quantity.Temperature, quantity.Pressure) (quantity.Density, error) {
	return c.density, nil
}

// coefficient is a density at a reference point with thermal expansion and
// compressibility: ρ = ρ0 / (1 + β (T - T0)) / (1 - κ (p - p0)), p0 the
// standard atmosphere.
type coefficient struct {
	model
	density     quantity.Density
	temperature quantity.Temperature
	beta, kappa float64
	span        quantity.Temperature // how far from T0 the constant β is believed
}

// A constant coefficient is believed up to a tenth of the density away from
// its reference point, and at most 150 K (common practice, no source).
const (
	largestExpansion = 0.1
	largestSpan      = 150
)

func newCoefficient(f datasheet.Fluid) (Liquid, error) {
	switch {
	case !positive(float64(f.BaseDensity)):
		return nil, errors.New("an expansion coefficient needs a base density above zero")
	case !positive(float64(f.BaseTemperature)):
		return nil, errors.New("an expansion coefficient needs the temperature of the base density")
	case !(math.Abs(f.Expansion) < 0.01):
		return nil, fmt.Errorf("expansion %g 1/K is not below 0.01 1/K", f.Expansion)
	case !(f.Compressibility >= 0 && f.Compressibility < 1e-7):
		return nil, fmt.Errorf("compressibility %g 1/Pa is not between 0 and 1e-7 1/Pa", f.Compressibility)
	}
	c := coefficient{known(f, uCoefficient, "base density with expansion coefficient"), f.BaseDensity, f.BaseTemperature,
		f.Expansion, f.Compressibility, largestSpan}
	if limit := largestExpansion / math.Abs(f.Expansion); limit < largestSpan {
		c.span = quantity.Temperature(limit)
	}
	return c, nil
}

func (c coefficient) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	const name = "expansion coefficient"
	if dt := t - c.temperature; !(dt >= -c.span && dt <= c.span) {
		return 0, &RangeError{Model: name, Quantity: "temperature", Value: t.Celsius(), Low: (c.temperature - c.span).Celsius(),
			High: (c.temperature + c.span).Celsius(), Unit: "°C", Remedy: "give a table of densities over the temperatures in service"}
	}
	squeeze := c.kappa * float64(p-quantity.StandardAtmosphere)
	if !(squeeze < largestExpansion) {
		return 0, &RangeError{Model: name, Quantity: "pressure", Value: p.Bar(), Low: 0,
			High: (quantity.StandardAtmosphere + quantity.Pressure(largestExpansion/c.kappa)).Bar(), Unit: "bar(a)",
			Remedy: "give a table of densities over temperature and pressure"}
	}
	return c.density / quantity.Density(1+c.beta*float64(t-c.temperature)) / quantity.Density(1-squeeze), nil
}

// Measured is a liquid whose density comes from a densitometer. Without a
// reading it falls back on the base density of the data sheet, if there is
// one, with the uncertainty of an entered value.
type Measured struct {
	model
	fallback Liquid // nil: none
	beta     float64
}

func newMeasured(f datasheet.Fluid) (Liquid, error) {
	m := &Measured{model: known(f, uMeasured, "densitometer"), beta: f.Expansion}
	if f.BaseDensity == 0 {
		return m, nil
	}
	fallback := newConstant
	if f.Expansion != 0 && f.BaseTemperature != 0 {
		fallback = newCoefficient
	}
	var err error
	m.fallback, err = fallback(f)
	return m, err
}

// Density is what the data sheet says in place of a reading; see From.
func (m *Measured) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	if m.fallback == nil {
		return 0, &RangeError{Model: "densitometer", Quantity: "readings", Value: 0, Low: 1, High: 1, Unit: "per scan",
			Remedy: "no densitometer reading and no base density to fall back on: give the fluid a base density"}
	}
	return m.fallback.Density(t, p)
}

// From carries a reading taken at one temperature to another by the expansion
// of the data sheet: the densitometer's sample line and the chamber are
// seldom equally warm.
func (m *Measured) From(reading quantity.Density, at, to quantity.Temperature) quantity.Density {
	return reading / quantity.Density(1+m.beta*float64(to-at))
}

func positive(v float64) bool { return v > 0 && !math.IsInf(v, 1) }
