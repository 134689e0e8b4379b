package fluid_test

import (
	"fmt"
	"math"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

// Formulations of the same liquid by different people, against each other.

// Density of air-free water at 101.325 kPa, 0 °C to 40 °C, the formula
// recommended by the CIPM (M. Tanaka et al., Metrologia 38 (2001) 301-309;
// coefficients from memory). IF97 was fitted to IAPWS-95, Tanaka to the
// measurements of mass laboratories; IAPWS claims 0.001 % for IF97 here.
func TestVectorsWaterAgainstTanaka2001(t *testing.T) {
	report := vectors.NewReport(t, "Tanaka et al., Metrologia 38 (2001) 301, water 1 to 40 °C at 101.325 kPa")
	l := liquid(t, datasheet.Fluid{Model: datasheet.Water})
	for c := 1.0; c <= 40; c++ {
		want := 999.974950 * (1 - (c-3.983035)*(c-3.983035)*(c+301.797)/(522528.9*(c+69.34881)))
		got := density(t, l, celsius(c), quantity.StandardAtmosphere)
		if e := report.Relative(fmt.Sprintf("%v °C", c), got, want); e > 1e-5 {
			t.Errorf("at %v °C IF97 says %.4f, Tanaka %.4f kg/m3", c, got, want)
		}
	}
}

// Relative densities refer to water at 60 °F, 999.016 kg/m3 in the edition of
// 2004 of API MPMS 11.1.
func TestVectorsWaterAt60F(t *testing.T) {
	report := vectors.NewReport(t, "API MPMS 11.1-2004, water at 60 °F, 999.016 kg/m3")
	l := liquid(t, datasheet.Fluid{Model: datasheet.Water})
	got := density(t, l, quantity.Temperature((60+459.67)/1.8), quantity.StandardAtmosphere)
	if report.Relative("60 °F", got, float64(datasheet.WaterReferenceDensity)) > 1e-5 {
		t.Errorf("IF97 says %.4f kg/m3", got)
	}
}

// The edition of 1980 (ASTM D1250-80, Table 54, base 15 °C; coefficients by
// way of several public codes) is a plausibility bound for that of 2004: they
// differ by less than 1e-4 between 30 °C and 90 °C, and by up to 4e-4 in the
// transition zone, where the expansion is so steep in density that it matters
// at which base it is taken.
func TestVectorsPetroleumAgainst1980(t *testing.T) {
	report := vectors.NewReport(t, "ASTM D1250-80, Table 54, the edition before: how far 2004 is from it")
	tests := []struct {
		name  string
		group string
		rho15 float64
		alpha func(rho float64) float64
		limit float64
	}{
		{"crude 850", "A", 850, func(r float64) float64 { return 613.9723 / (r * r) }, 1e-4},
		{"crude 950", "A", 950, func(r float64) float64 { return 613.9723 / (r * r) }, 1e-4},
		{"gasoline 740", "B", 740, func(r float64) float64 { return 346.4228/(r*r) + 0.4388/r }, 1e-4},
		{"transition 780", "B", 780, func(r float64) float64 { return -0.00336312 + 2680.3206/(r*r) }, 4e-4},
		{"jet fuel 810", "B", 810, func(r float64) float64 { return 594.5418 / (r * r) }, 1e-4},
		{"fuel oil 900", "B", 900, func(r float64) float64 { return 186.9696/(r*r) + 0.4862/r }, 1e-4},
		{"lubricating oil 880", "D", 880, func(r float64) float64 { return 0.6278 / r }, 1e-4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l := liquid(t, datasheet.Fluid{Model: datasheet.Petroleum, Group: tt.group, BaseDensity: quantity.Density(tt.rho15), BaseTemperature: celsius(15)})
			for c := 30.0; c <= 90; c += 10 {
				a, dt := tt.alpha(tt.rho15), c-15
				factor1980 := math.Exp(-a * dt * (1 + 0.8*a*dt))
				factor2004 := density(t, l, celsius(c), quantity.StandardAtmosphere) / tt.rho15
				if e := report.Relative(fmt.Sprintf("%s at %v °C", tt.name, c), factor2004, factor1980); e > tt.limit {
					t.Errorf("at %v °C the factor is %.6f, in 1980 %.6f", c, factor2004, factor1980)
				}
			}
		})
	}
}

// Liquefied gases by two methods with nothing in common: the two-fluid method
// of API MPMS 11.2.4 and COSTALD with a molecule's own parameters.
func TestVectorsLPGAgainstCOSTALD(t *testing.T) {
	report := vectors.NewReport(t, "COSTALD against API MPMS 11.2.4, 60 to 140 °F")
	tests := []struct {
		name     string
		rd       float64 // of the pure substance in 11.2.4
		relative float64
	}{
		{"propane", 0.507025, 0.0015}, {"i-butane", 0.562827, 0.0015}, {"n-butane", 0.584127, 0.0015},
		{"n-pentane", 0.631054, 0.003}, {"i-pentane", 0.624285, 0.005},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			by := liquid(t, datasheet.Fluid{Model: datasheet.LPG, RelativeDensity: tt.rd})
			pure := liquid(t, datasheet.Fluid{Model: datasheet.Pure, Components: []datasheet.Component{{Name: tt.name}}})
			for _, F := range []float64{60, 100, 140} {
				at := quantity.Temperature((F + 459.67) / 1.8)
				lpg, costald := density(t, by, at, 0), density(t, pure, at, 0)
				if e := report.Relative(fmt.Sprintf("%s at %v °F", tt.name, F), costald, lpg); e > tt.relative {
					t.Errorf("at %v °F COSTALD says %.2f, 11.2.4 %.2f kg/m3 (%.2f %%)", F, costald, lpg, 100*e)
				}
			}
		})
	}
}

// Mixtures too: a propane-butane mixture has the density 11.2.4 gives to its
// relative density.
func TestMixtureAgainstLPG(t *testing.T) {
	mixture := liquid(t, datasheet.Fluid{Model: datasheet.Pure, Components: []datasheet.Component{{Name: "propane", Fraction: 0.6}, {Name: "n-butane", Fraction: 0.4}}})
	sixty := quantity.Temperature((60 + 459.67) / 1.8)
	rd := density(t, mixture, sixty, 0) / float64(datasheet.WaterReferenceDensity)
	lpg := liquid(t, datasheet.Fluid{Model: datasheet.LPG, RelativeDensity: rd})
	for _, c := range []float64{-20, 0, 30, 50} {
		a, b := density(t, mixture, celsius(c), 0), density(t, lpg, celsius(c), 0)
		if math.Abs(a/b-1) > 0.004 {
			t.Errorf("at %v °C COSTALD says %.2f, 11.2.4 %.2f kg/m3", c, a, b)
		}
	}
}
