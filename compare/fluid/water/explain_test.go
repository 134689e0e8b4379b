package water_test

import (
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// Every way through the formulation is explained by steps that end in the
// value the function returns.
func TestExplainEndsInTheResult(t *testing.T) {
	tests := []struct {
		name    string
		explain func() ([]quantity.Step, error)
		result  func() (quantity.Density, error)
	}{
		{"liquid, region 1", func() ([]quantity.Step, error) { return water.ExplainLiquid(400, 5e6) }, func() (quantity.Density, error) { return water.LiquidDensity(400, 5e6) }},
		{"liquid, region 3", func() ([]quantity.Step, error) { return water.ExplainLiquid(630, 25e6) }, func() (quantity.Density, error) { return water.LiquidDensity(630, 25e6) }},
		{"steam, region 2", func() ([]quantity.Step, error) { return water.ExplainVapour(500, 1e6) }, func() (quantity.Density, error) { return water.VapourDensity(500, 1e6) }},
		{"steam, metastable", func() ([]quantity.Step, error) { return water.ExplainVapour(450, 1e6) }, func() (quantity.Density, error) { return water.VapourDensity(450, 1e6) }},
		{"steam, region 3", func() ([]quantity.Step, error) { return water.ExplainVapour(660, 24e6) }, func() (quantity.Density, error) { return water.VapourDensity(660, 24e6) }},
		{"saturated steam", func() ([]quantity.Step, error) { return water.ExplainSaturatedVapour(4e6) }, func() (quantity.Density, error) { return water.SaturatedVapour(4e6) }},
		{"saturated steam, region 3", func() ([]quantity.Step, error) { return water.ExplainSaturatedVapour(19e6) }, func() (quantity.Density, error) { return water.SaturatedVapour(19e6) }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			steps, err := tt.explain()
			if err != nil {
				t.Fatal(err)
			}
			want, err := tt.result()
			if err != nil {
				t.Fatal(err)
			}
			last := steps[len(steps)-1]
			if last.Symbol != "ρ" || last.Value != float64(want) {
				t.Errorf("the steps end in %+v, the density is %v", last, want)
			}
		})
	}
}

func TestSaturationOutOfRange(t *testing.T) {
	if _, err := water.SaturationPressure(647.2); err == nil {
		t.Error("a boiling point above the critical temperature")
	}
	if _, err := water.SaturationPressure(273); err == nil {
		t.Error("a boiling point below freezing")
	}
	if _, err := water.SaturationTemperature(22.1e6); err == nil {
		t.Error("a boiling point above the critical pressure")
	}
	if _, err := water.SaturationTemperature(600); err == nil {
		t.Error("a boiling point below the triple point")
	}
	if _, err := water.LiquidDensity(650, 25e6); err == nil {
		t.Error("a liquid above the critical temperature")
	}
	if _, err := water.VapourDensity(600, 30e6); err == nil {
		t.Error("steam at 300 bar and 327 °C")
	}
}
