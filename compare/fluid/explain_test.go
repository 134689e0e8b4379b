package fluid_test

import (
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fluid"
	"bridlewatch/compare/quantity"
)

// What is shown is what is used: the last step is the density, to the bit.
func TestExplainEndsInTheDensity(t *testing.T) {
	water := datasheet.Fluid{Model: datasheet.Water}
	tests := []struct {
		name   string
		f      datasheet.Fluid
		c, bar float64
		symbol string // a step that must be there
	}{
		{"water, region 1", water, 150, 40, "γπ"},
		{"water above its boiling point", water, 182, 10, "Tsat"},
		{"water, region 3", water, 360, 200, "δ"},
		{"crude", datasheet.Fluid{Model: datasheet.Petroleum, Group: "A", BaseDensity: 850, BaseTemperature: celsius(15)}, 60, 6, "CTL"},
		{"lpg", datasheet.Fluid{Model: datasheet.LPG, RelativeDensity: 0.51}, 25, 10, "Tr"},
		{"propane", datasheet.Fluid{Model: datasheet.Pure, Components: []datasheet.Component{{Name: "propane"}}}, 25, 20, "Vs"},
		{"table", datasheet.Fluid{Model: datasheet.Table, Table: kerosene}, 25, 20, "T"},
		{"coefficient", datasheet.Fluid{Model: datasheet.Coefficient, BaseDensity: 900, BaseTemperature: celsius(15), Expansion: 8e-4}, 25, 20, "β"},
		{"polynomial", datasheet.Fluid{Model: datasheet.Polynomial, BaseTemperature: celsius(20), Powers: []float64{950, -0.6}, Coldest: celsius(0), Hottest: celsius(90)}, 25, 20, "c1"},
		{"blend", datasheet.Fluid{Model: datasheet.Blend, Parts: []datasheet.Part{{Fluid: water, MassFraction: 0.3},
			{Fluid: datasheet.Fluid{Model: datasheet.Constant, BaseDensity: 1110}, MassFraction: 0.7}}}, 25, 20, "ρ2"},
		{"constant", datasheet.Fluid{Model: datasheet.Constant, BaseDensity: 900}, 25, 20, "p"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l := liquid(t, tt.f)
			steps, err := fluid.Explain(l, celsius(tt.c), bar(tt.bar))
			if err != nil {
				t.Fatal(err)
			}
			checkSteps(t, steps, tt.symbol, density(t, l, celsius(tt.c), bar(tt.bar)))
			if _, err := fluid.Explain(l, celsius(2000), bar(tt.bar)); err == nil && tt.f.Model != datasheet.Constant {
				t.Error("a state out of range was explained")
			}
		})
	}
}

func TestExplainVapourEndsInDensityAndPermittivity(t *testing.T) {
	tests := []struct {
		name   string
		v      datasheet.Vapour
		c, bar float64
		symbol string
	}{
		{"superheated steam", datasheet.Vapour{Model: datasheet.Steam}, 350, 40, "γπ"},
		{"steam at a colder wall", datasheet.Vapour{Model: datasheet.Steam}, 200, 40, "Tsat"},
		{"saturated steam of region 3", datasheet.Vapour{Model: datasheet.Steam}, 200, 190, "δ"},
		{"nitrogen", datasheet.Vapour{Model: datasheet.Gas, MolarMass: 0.028, Permittivity: 1.000547}, 40, 12, "Z"},
		{"neglected", datasheet.Vapour{}, 40, 12, "M"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			v, err := fluid.NewVapour(tt.v)
			if err != nil {
				t.Fatal(err)
			}
			rho, eps, err := fluid.ExplainVapour(v, celsius(tt.c), bar(tt.bar))
			if err != nil {
				t.Fatal(err)
			}
			wantRho, err := v.Density(celsius(tt.c), bar(tt.bar))
			if err != nil {
				t.Fatal(err)
			}
			wantEps, err := v.Permittivity(celsius(tt.c), bar(tt.bar))
			if err != nil {
				t.Fatal(err)
			}
			checkSteps(t, rho, tt.symbol, float64(wantRho))
			checkSteps(t, eps, "ε", wantEps)
		})
	}
}

func checkSteps(t *testing.T, steps []quantity.Step, symbol string, result float64) {
	t.Helper()
	if got := steps[len(steps)-1].Value; got != result {
		t.Errorf("the steps end in %v, used is %v", got, result)
	}
	found := false
	for _, s := range steps {
		found = found || s.Symbol == symbol
		if s.Symbol == "" || s.Meaning == "" || s.Source == "" {
			t.Errorf("incomplete step %+v", s)
		}
	}
	if !found {
		t.Errorf("no step for %q in %+v", symbol, steps)
	}
}
