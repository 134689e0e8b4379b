package fluid

import (
	"errors"
	"fmt"
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// polynomial is ρ = c0 + c1 (T - T0) + c2 (T - T0)² + ..., between two
// temperatures and at any pressure.
type polynomial struct {
	model
	powers           []float64
	base             quantity.Temperature
	coldest, hottest quantity.Temperature
}

func newPolynomial(f datasheet.Fluid) (Liquid, error) {
	switch {
	case len(f.Powers) < 2:
		return nil, errors.New("a polynomial needs two factors or more: the density at the base temperature, its slope and so on")
	case !positive(float64(f.BaseTemperature)):
		return nil, errors.New("a polynomial needs the base temperature its powers count from")
	case !(f.Coldest > 0 && f.Hottest > f.Coldest):
		return nil, errors.New("a polynomial needs the coldest and hottest temperature it holds between")
	}
	l := polynomial{known(f, uPolynomial, "polynomial in temperature"), f.Powers, f.BaseTemperature, f.Coldest, f.Hottest}
	return l, l.check()
}

// check walks the range in a hundred steps: a density that is not positive or
// rises by more than water does below 4 °C betrays a wrong base or unit.
func (l polynomial) check() error {
	const steps = 100
	last := math.Inf(1)
	for i := range steps + 1 {
		t := l.coldest + (l.hottest-l.coldest)*quantity.Temperature(i)/steps
		rho := l.at(t)
		if !(rho > 0 && rho < 5000) {
			return fmt.Errorf("the polynomial gives %.4g kg/m3 at %.1f °C: check its factors and its base temperature", rho, t.Celsius())
		}
		if rho > last*1.001 {
			return fmt.Errorf("the polynomial rises with temperature near %.1f °C: check its factors and its base temperature", t.Celsius())
		}
		last = math.Min(last, rho)
	}
	return nil
}

func (l polynomial) at(t quantity.Temperature) float64 {
	x, rho := float64(t-l.base), 0.0
	for i := len(l.powers) - 1; i >= 0; i-- {
		rho = rho*x + l.powers[i]
	}
	return rho
}

func (l polynomial) Density(t quantity.Temperature, _ quantity.Pressure) (quantity.Density, error) {
	const roundOff = 1e-6 // K, what conversion of units may add at an end
	if !(t >= l.coldest-roundOff && t <= l.hottest+roundOff) {
		return 0, &RangeError{Model: "density polynomial", Quantity: "temperature", Value: t.Celsius(), Low: l.coldest.Celsius(),
			High: l.hottest.Celsius(), Unit: "°C", Remedy: "a polynomial must not be carried beyond its range; give a table for the temperatures in service"}
	}
	return quantity.Density(l.at(t)), nil
}

func (l polynomial) explain(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	rho, err := l.Density(t, p)
	if err != nil {
		return nil, err
	}
	steps := append(state(t, p), quantity.Step{Symbol: "T0", Meaning: "base temperature", Value: float64(l.base), Unit: "K", Source: quantity.Given})
	for i, c := range l.powers {
		steps = append(steps, quantity.Step{Symbol: fmt.Sprintf("c%d", i), Meaning: fmt.Sprintf("factor of (T − T0)^%d", i), Value: c,
			Unit: fmt.Sprintf("kg/(m3 K^%d)", i), Source: quantity.Given})
	}
	return append(steps, last(rho, l.basis, "Σ c (T − T0)^i")), nil
}
