package water

import "bridlewatch/compare/quantity"

// ExplainLiquid works out LiquidDensity step by step; the last step is the
// density.
func ExplainLiquid(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	rho, err := LiquidDensity(t, p)
	if err != nil {
		return nil, err
	}
	steps := explainState(t, p)
	T, P := float64(t), float64(p)
	if P < criticalPressure {
		boiling, _ := boilingPoint(P)
		steps = append(steps, quantity.Step{Symbol: "Tsat", Meaning: "boiling point at p", Value: boiling, Unit: "K", Source: "R7-97(2012) eq. (31)"})
		if T > boiling {
			T = boiling
			steps = append(steps, quantity.Step{Symbol: "T", Meaning: "liquid above its boiling point is taken as boiling", Value: T, Unit: "K", Source: "own rule"})
		}
	}
	if T <= region3Temperature {
		return append(steps, explain1(T, P)...), nil
	}
	return append(steps, explain3(T, float64(rho))...), nil
}

// ExplainVapour works out VapourDensity step by step.
func ExplainVapour(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	rho, err := VapourDensity(t, p)
	if err != nil {
		return nil, err
	}
	return append(explainState(t, p), explainVapour(float64(t), float64(p), float64(rho))...), nil
}

// ExplainSaturatedVapour works out SaturatedVapour step by step.
func ExplainSaturatedVapour(p quantity.Pressure) ([]quantity.Step, error) {
	rho, err := SaturatedVapour(p)
	if err != nil {
		return nil, err
	}
	T, P := saturationTemperature(float64(p)), float64(p)
	steps := []quantity.Step{
		{Symbol: "p", Meaning: "absolute pressure", Value: P / 1e6, Unit: "MPa", Source: quantity.Given},
		{Symbol: "Tsat", Meaning: "temperature of saturated steam at p", Value: T, Unit: "K", Source: "R7-97(2012) eq. (31)"},
	}
	if T <= region3Temperature+roundOff {
		return append(steps, explain2(T, P)...), nil
	}
	return append(steps, explain3(T, float64(rho))...), nil
}

// ExplainPermittivity works out Permittivity step by step.
func ExplainPermittivity(rho quantity.Density, t quantity.Temperature) ([]quantity.Step, error) {
	eps, err := Permittivity(rho, t)
	if err != nil {
		return nil, err
	}
	R, T := float64(rho), float64(t)
	g := harrisAlder(R/criticalDensity, criticalTemperature/T, T)
	return []quantity.Step{
		{Symbol: "ρ", Meaning: "density", Value: R, Unit: "kg/m3", Source: quantity.Given},
		{Symbol: "T", Meaning: "temperature", Value: T, Unit: "K", Source: quantity.Given},
		{Symbol: "g", Meaning: "Harris-Alder factor", Value: g, Source: "R8-97 eq. (4)", Equation: "1 + Σ N (ρ/ρc)^i (Tc/T)^j + N12 (ρ/ρc) (T/228 K − 1)^−1.2"},
		{Symbol: "A", Meaning: "dipole term", Value: dipoleFactor * R * g / T, Source: "R8-97 eq. (2)", Equation: "NA μ² ρ g / (M ε0 k T)"},
		{Symbol: "B", Meaning: "polarization term", Value: polarizationFactor * R, Source: "R8-97 eq. (3)", Equation: "NA α ρ / (3 M ε0)"},
		{Symbol: "ε", Meaning: "relative permittivity", Value: eps, Source: "R8-97 eq. (1)", Equation: "[1 + A + 5B + √(9 + 2A + 18B + A² + 10AB + 9B²)] / (4 − 4B)"},
	}, nil
}

func explainState(t quantity.Temperature, p quantity.Pressure) []quantity.Step {
	return []quantity.Step{
		{Symbol: "T", Meaning: "temperature", Value: float64(t), Unit: "K", Source: quantity.Given},
		{Symbol: "p", Meaning: "absolute pressure", Value: float64(p) / 1e6, Unit: "MPa", Source: quantity.Given},
	}
}

func explain1(T, P float64) []quantity.Step {
	const equation, derivative = "R7-97(2012) Table 3", "R7-97(2012) Table 4"
	pi, tau := P/region1Star, 1386/T
	gammaPi, _ := gammaPi1(7.1-pi, tau-1.222)
	return append([]quantity.Step{
		{Symbol: "π", Meaning: "region 1: reduced pressure", Value: pi, Source: equation, Equation: "p / 16.53 MPa"},
		{Symbol: "τ", Meaning: "region 1: inverse reduced temperature", Value: tau, Source: equation, Equation: "1386 K / T"},
		{Symbol: "γπ", Meaning: "derivative of the Gibbs energy", Value: gammaPi, Source: derivative,
			Equation: "Σ −n I (7.1 − π)^(I−1) (τ − 1.222)^J"},
	}, explainVolume(float64(density1(T, P)), equation)...)
}

func explain2(T, P float64) []quantity.Step {
	const equation, derivative = "R7-97(2012) Table 12", "R7-97(2012) Tables 13 and 14"
	pi, tau := P/1e6, 540/T
	return append([]quantity.Step{
		{Symbol: "π", Meaning: "region 2: reduced pressure", Value: pi, Source: equation, Equation: "p / 1 MPa"},
		{Symbol: "τ", Meaning: "region 2: inverse reduced temperature", Value: tau, Source: equation, Equation: "540 K / T"},
		{Symbol: "γπ", Meaning: "derivative of the Gibbs energy", Value: 1/pi + gammaPi2(pi, tau-0.5), Source: derivative,
			Equation: "1/π + Σ n I π^(I−1) (τ − 0.5)^J"},
	}, explainVolume(float64(density2(T, P)), equation)...)
}

func explainVolume(rho float64, source string) []quantity.Step {
	return []quantity.Step{
		{Symbol: "v", Meaning: "specific volume", Value: 1 / rho, Unit: "m3/kg", Source: source, Equation: "π γπ R T / p"},
		{Symbol: "ρ", Meaning: "density", Value: rho, Unit: "kg/m3", Source: source, Equation: "1 / v"},
	}
}

func explain3(T, rho float64) []quantity.Step {
	p, _ := pressure3(rho, T)
	return []quantity.Step{
		{Symbol: "τ", Meaning: "region 3: inverse reduced temperature", Value: criticalTemperature / T, Source: "R7-97(2012) eq. (28)", Equation: "647.096 K / T"},
		{Symbol: "δ", Meaning: "region 3: reduced density, solved for p", Value: rho / criticalDensity, Source: "R7-97(2012) eq. (28)", Equation: "ρ / 322 kg/m3"},
		{Symbol: "p(ρ, T)", Meaning: "pressure at the solution", Value: p / 1e6, Unit: "MPa", Source: "R7-97(2012) Table 31", Equation: "ρ R T δ φδ(δ, τ)"},
		{Symbol: "ρ", Meaning: "density", Value: rho, Unit: "kg/m3", Source: "R7-97(2012) Table 31", Equation: "322 kg/m3 · δ"},
	}
}

func explainVapour(T, P, rho float64) []quantity.Step {
	boiling, _ := boilingPoint(P)
	switch {
	case T < criticalTemperature && T < boiling:
		return []quantity.Step{{Symbol: "ρ", Meaning: "density of metastable steam", Value: rho, Unit: "kg/m3", Source: "R7-97(2012) eq. (18)"}}
	case T <= region3Temperature || T > border23Temperature || P <= border23Pressure(T):
		return explain2(T, P)
	}
	return explain3(T, rho)
}
