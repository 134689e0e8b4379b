package fluid

import (
	"fmt"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// explainer is a model that can show its work.
type explainer interface {
	explain(quantity.Temperature, quantity.Pressure) ([]quantity.Step, error)
}

// Explain works out the density of a liquid step by step, with symbols, units
// and the source of every equation. The last step is the density.
func Explain(l Liquid, t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	if e, ok := l.(explainer); ok {
		return e.explain(t, p)
	}
	rho, err := l.Density(t, p)
	if err != nil {
		return nil, err
	}
	return append(state(t, p), last(rho, l.Basis(), "")), nil
}

// ExplainVapour works out the density and the permittivity of the gas above
// the liquid; the last step of each list is the result.
func ExplainVapour(v Vapour, t quantity.Temperature, p quantity.Pressure) (density, permittivity []quantity.Step, err error) {
	switch v := v.(type) {
	case steam:
		return v.explain(t, p)
	case gas:
		return v.explain(t, p)
	}
	return nil, nil, fmt.Errorf("no steps are known for a vapour of type %T", v)
}

func state(t quantity.Temperature, p quantity.Pressure) []quantity.Step {
	return []quantity.Step{
		{Symbol: "T", Meaning: "temperature", Value: float64(t), Unit: "K", Source: quantity.Given},
		{Symbol: "p", Meaning: "absolute pressure", Value: float64(p), Unit: "Pa", Source: quantity.Given},
	}
}

func last(rho quantity.Density, source, equation string) quantity.Step {
	return quantity.Step{Symbol: "ρ", Meaning: "density", Value: float64(rho), Unit: "kg/m3", Source: source, Equation: equation}
}

func (waterLiquid) explain(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	return water.ExplainLiquid(t, p)
}

func (o oil) explain(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	return o.oil.Explain(t, gaugePressure(p))
}

func (l lpg) explain(t quantity.Temperature, _ quantity.Pressure) ([]quantity.Step, error) {
	return l.lpg.Explain(t)
}

func (l pure) explain(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	return l.liquid.Explain(t, p)
}

func (c coefficient) explain(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	rho, err := c.Density(t, p)
	if err != nil {
		return nil, err
	}
	return append(state(t, p),
		quantity.Step{Symbol: "T0", Meaning: "base temperature", Value: float64(c.temperature), Unit: "K", Source: quantity.Given},
		quantity.Step{Symbol: "ρ0", Meaning: "base density", Value: float64(c.density), Unit: "kg/m3", Source: quantity.Given},
		quantity.Step{Symbol: "β", Meaning: "thermal expansion", Value: c.beta, Unit: "1/K", Source: quantity.Given},
		quantity.Step{Symbol: "κ", Meaning: "compressibility", Value: c.kappa, Unit: "1/Pa", Source: quantity.Given},
		last(rho, c.basis, "ρ0 / [1 + β (T − T0)] / [1 − κ (p − 101325 Pa)]")), nil
}

func (g gas) explain(t quantity.Temperature, p quantity.Pressure) (density, permittivity []quantity.Step, err error) {
	rho, err := g.Density(t, p)
	if err != nil {
		return nil, nil, err
	}
	eps, err := g.Permittivity(t, p)
	if err != nil {
		return nil, nil, err
	}
	density = append(state(t, p),
		quantity.Step{Symbol: "M", Meaning: "molar mass, 0: density neglected", Value: g.molarMass, Unit: "kg/mol", Source: quantity.Given},
		quantity.Step{Symbol: "Z", Meaning: "compressibility factor", Value: g.z, Source: quantity.Given},
		last(rho, "real gas with constant Z", "p M / (Z R T)"))
	permittivity = append(state(t, p),
		quantity.Step{Symbol: "(ε−1)/(ε+2)", Meaning: "polarization at 20 °C and 101.325 kPa", Value: g.polarization, Source: "Clausius-Mossotti relation"},
		quantity.Step{Symbol: "ε", Meaning: "relative permittivity", Value: eps, Source: "Clausius-Mossotti relation",
			Equation: "(1 + 2c) / (1 − c), c = (ε−1)/(ε+2) · p/101325 Pa · 293.15 K/T / Z"})
	return density, permittivity, nil
}

func (s steam) explain(t quantity.Temperature, p quantity.Pressure) (density, permittivity []quantity.Step, err error) {
	at, rho, err := steamState(t, p)
	if err != nil {
		return nil, nil, err
	}
	if at != t {
		density, err = water.ExplainSaturatedVapour(p)
	} else {
		density, err = water.ExplainVapour(t, p)
	}
	if err != nil {
		return nil, nil, err
	}
	permittivity, err = water.ExplainPermittivity(rho, at)
	return density, permittivity, err
}
