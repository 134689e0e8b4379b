package costald

import "bridlewatch/compare/quantity"

// Explain works out Density step by step; the last step is the density.
func (l Liquid) Explain(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	rho, err := l.Density(t, p)
	if err != nil {
		return nil, err
	}
	const saturation, compression = "Hankinson and Thomson 1979", "Thomson, Brobst and Hankinson 1982"
	tr := float64(t) / l.tc
	saturated, vapour := l.saturatedVolume(tr), l.vapourPressure(tr)
	return []quantity.Step{
		{Symbol: "T", Meaning: "temperature", Value: float64(t), Unit: "K", Source: quantity.Given},
		{Symbol: "p", Meaning: "absolute pressure", Value: float64(p), Unit: "Pa", Source: quantity.Given},
		{Symbol: "Tc", Meaning: "critical temperature, of a mixture pseudo-critical", Value: l.tc, Unit: "K", Source: saturation},
		{Symbol: "V*", Meaning: "characteristic volume", Value: l.volume, Unit: "m3/mol", Source: saturation},
		{Symbol: "ω", Meaning: "acentric factor", Value: l.omega, Source: saturation},
		{Symbol: "Tr", Meaning: "reduced temperature", Value: tr, Source: saturation, Equation: "T / Tc"},
		{Symbol: "Vs", Meaning: "molar volume at saturation", Value: saturated, Unit: "m3/mol", Source: saturation, Equation: "V* V0(Tr) [1 − ω Vδ(Tr)]"},
		{Symbol: "psat", Meaning: "saturation pressure", Value: vapour, Unit: "Pa", Source: "Lee and Kesler 1975"},
		{Symbol: "V", Meaning: "molar volume under pressure", Value: l.compress(saturated, tr, float64(p), vapour), Unit: "m3/mol", Source: compression,
			Equation: "Vs {1 − C ln[(B + p) / (B + psat)]}"},
		{Symbol: "M", Meaning: "molar mass", Value: l.molarMass, Unit: "kg/mol", Source: "table of substances"},
		{Symbol: "ρ", Meaning: "density", Value: float64(rho), Unit: "kg/m3", Source: compression, Equation: "M / V"},
	}, nil
}
