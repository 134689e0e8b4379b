package petroleum

import (
	"bridlewatch/compare/quantity"
)

// Explain works out Density step by step; the last step is the density.
func (o Oil) Explain(t quantity.Temperature, gauge quantity.PressureDifference) ([]quantity.Step, error) {
	F, psig, err := checkState(t, gauge)
	if err != nil {
		return nil, err
	}
	const clause = "API MPMS 11.1-2004, 11.1.6.1 "
	star, f := toIPTS68(F), o.factors(F, psig)
	return []quantity.Step{
		{Symbol: "t", Meaning: "temperature", Value: F, Unit: "°F", Source: quantity.Given},
		{Symbol: "P", Meaning: "gauge pressure, not below zero", Value: psig, Unit: "psi", Source: quantity.Given},
		{Symbol: "ρ60", Meaning: "density at 60 °F, " + o.group.String(), Value: o.rho60, Unit: "kg/m3", Source: "from the base density"},
		{Symbol: "t*", Meaning: "temperature on IPTS-68", Value: star, Unit: "°F", Source: clause + "step 1"},
		{Symbol: "ρ*", Meaning: "density at 60 °F of IPTS-68", Value: o.star, Unit: "kg/m3", Source: clause + "step 2", Equation: "ρ60 {1 + [exp(A(1 + 0.8A)) − 1] / [1 + A(1 + 1.6A)B]}"},
		{Symbol: "α60", Meaning: "thermal expansion at 60 °F", Value: o.alpha, Unit: "1/°F", Source: clause + "step 3", Equation: "K0/ρ*² + K1/ρ* + K2"},
		{Symbol: "Δt", Meaning: "temperature above 60 °F", Value: star - base68, Unit: "°F", Source: clause + "step 3", Equation: "t* − 60.0068749 °F"},
		{Symbol: "CTL", Meaning: "correction for temperature", Value: f.CTL, Source: clause + "step 3", Equation: "exp{−α60 Δt [1 + 0.8 α60 (Δt + 0.01374979547 °F)]}"},
		{Symbol: "Fp", Meaning: "scaled compressibility", Value: f.Fp, Unit: "1e-5/psi", Source: clause + "step 4", Equation: "exp[−1.9947 + 0.00013427 t* + (793920 + 2326 t*)/ρ*²]"},
		{Symbol: "CPL", Meaning: "correction for pressure", Value: f.CPL, Source: clause + "step 4", Equation: "1 / (1 − 1e-5 Fp P)"},
		{Symbol: "CTPL", Meaning: "correction for both", Value: f.CTPL(), Source: clause + "step 5", Equation: "CTL · CPL"},
		{Symbol: "ρ", Meaning: "density", Value: o.rho60 * f.CTPL(), Unit: "kg/m3", Source: clause + "step 5", Equation: "ρ60 · CTPL"},
	}, nil
}

// Explain works out Density step by step; the last step is the density.
func (l LPG) Explain(t quantity.Temperature) ([]quantity.Step, error) {
	ctl, err := l.CTL(t)
	if err != nil {
		return nil, err
	}
	const clause = "API MPMS 11.2.4"
	between := " between " + l.first.name + " and " + l.second.name
	return []quantity.Step{
		{Symbol: "T", Meaning: "temperature", Value: float64(t), Unit: "K", Source: quantity.Given},
		{Symbol: "γ60", Meaning: "relative density at 60 °F", Value: l.relativeDensity, Source: quantity.Given},
		{Symbol: "δ", Meaning: "share" + between, Value: l.share, Source: clause},
		{Symbol: "Tc", Meaning: "critical temperature" + between, Value: l.criticalTemp, Unit: "K", Source: clause},
		{Symbol: "Tr", Meaning: "reduced temperature", Value: float64(t) / l.criticalTemp, Source: clause, Equation: "T / Tc"},
		{Symbol: "Tr60", Meaning: "reduced temperature at 60 °F", Value: sixty / l.criticalTemp, Source: clause, Equation: "288.706 K / Tc"},
		{Symbol: "CTL", Meaning: "saturation density over that at 60 °F", Value: ctl, Source: clause, Equation: "X(Tr) / X(Tr60)"},
		{Symbol: "ρ", Meaning: "density", Value: l.relativeDensity * waterAt60F * ctl, Unit: "kg/m3", Source: clause, Equation: "γ60 · 999.016 kg/m3 · CTL"},
	}, nil
}
