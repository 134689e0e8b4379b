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
		boiling := boilingPoint(P)
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
		{Symbol: "g", Meaning: "Harris-Alder factor", Value: g, Source: "R8-97 eq. (4)"},
		{Symbol: "A", Meaning: "dipole term", Value: dipoleFactor * R * g / T, Source: "R8-97 eq. (2)"},
		{Symbol: "B", Meaning: "polarization term", Value: polarizationFactor * R, Source: "R8-97 eq. (3)"},
		{Symbol: "ε", Meaning: "relative permittivity", Value: eps, Source: "R8-97 eq. (1)"},
	}, nil
}

func explainState(t quantity.Temperature, p quantity.Pressure) []quantity.Step {
	return []quantity.Step{
		{Symbol: "T", Meaning: "temperature", Value: float64(t), Unit: "K", Source: quantity.Given},
		{Symbol: "p", Meaning: "absolute pressure", Value: float64(p) / 1e6, Unit: "MPa", Source: quantity.Given},
	}
}

func explain1(T, P float64) []quantity.Step {
	pi, tau := P/region1Star, 1386/T
	return explainVolume("region 1: ", pi, tau, gammaPi1(7.1-pi, tau-1.222), float64(density1(T, P)), "R7-97(2012) Table 4", "R7-97(2012) Table 3")
}

func explain2(T, P float64) []quantity.Step {
	pi, tau := P/1e6, 540/T
	return explainVolume("region 2: ", pi, tau, 1/pi+gammaPi2(pi, tau-0.5), float64(density2(T, P)), "R7-97(2012) Tables 13 and 14", "R7-97(2012) Table 12")
}

func explainVolume(region string, pi, tau, gamma, rho float64, sourceGamma, sourceVolume string) []quantity.Step {
	return []quantity.Step{
		{Symbol: "π", Meaning: region + "reduced pressure", Value: pi, Source: sourceVolume},
		{Symbol: "τ", Meaning: region + "inverse reduced temperature", Value: tau, Source: sourceVolume},
		{Symbol: "γπ", Meaning: "derivative of the Gibbs energy", Value: gamma, Source: sourceGamma},
		{Symbol: "v", Meaning: "specific volume π γπ R T / p", Value: 1 / rho, Unit: "m3/kg", Source: sourceVolume},
		{Symbol: "ρ", Meaning: "density 1/v", Value: rho, Unit: "kg/m3", Source: sourceVolume},
	}
}

func explain3(T, rho float64) []quantity.Step {
	p, _ := pressure3(rho, T)
	return []quantity.Step{
		{Symbol: "τ", Meaning: "region 3: inverse reduced temperature", Value: criticalTemperature / T, Source: "R7-97(2012) eq. (28)"},
		{Symbol: "δ", Meaning: "region 3: reduced density, solved for p", Value: rho / criticalDensity, Source: "R7-97(2012) eq. (28)"},
		{Symbol: "p(ρ, T)", Meaning: "pressure at the solution", Value: p / 1e6, Unit: "MPa", Source: "R7-97(2012) Table 31"},
		{Symbol: "ρ", Meaning: "density", Value: rho, Unit: "kg/m3", Source: "R7-97(2012) Table 31"},
	}
}

func explainVapour(T, P, rho float64) []quantity.Step {
	switch {
	case T < criticalTemperature && T < boilingPoint(P):
		return []quantity.Step{{Symbol: "ρ", Meaning: "density of metastable steam", Value: rho, Unit: "kg/m3", Source: "R7-97(2012) eq. (18)"}}
	case T <= region3Temperature || T > border23Temperature || P <= border23Pressure(T):
		return explain2(T, P)
	}
	return explain3(T, rho)
}
