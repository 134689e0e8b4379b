package water_test

import (
	"math"
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// The printed values of R7-97(2012) have nine significant digits: half a unit
// of the last is at most 5e-9 of the value.
const printed9 = 5e-9

// R7-97(2012), Tables 5 (region 1), 15 (region 2) and 18 (metastable vapour).
func TestSpecificVolume(t *testing.T) {
	tests := []struct {
		name    string
		density func(quantity.Temperature, quantity.Pressure) (quantity.Density, error)
		T, MPa  float64
		volume  float64 // m3/kg
	}{
		{"R7-97 table 5 column 1", water.LiquidDensity, 300, 3, 0.100215168e-2},
		{"R7-97 table 5 column 2", water.LiquidDensity, 300, 80, 0.971180894e-3},
		{"R7-97 table 5 column 3", water.LiquidDensity, 500, 3, 0.120241800e-2},
		{"R7-97 table 15 column 1", water.VapourDensity, 300, 0.0035, 39.4913866},
		{"R7-97 table 15 column 2", water.VapourDensity, 700, 0.0035, 92.3015898},
		{"R7-97 table 15 column 3", water.VapourDensity, 700, 30, 0.542946619e-2},
		{"R7-97 table 18 column 1", water.VapourDensity, 450, 1, 0.192516540},
		{"R7-97 table 18 column 2", water.VapourDensity, 440, 1, 0.186212297},
		{"R7-97 table 18 column 3", water.VapourDensity, 450, 1.5, 0.121685206},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rho, err := tt.density(quantity.Temperature(tt.T), quantity.Pressure(tt.MPa*1e6))
			if err != nil {
				t.Fatal(err)
			}
			if v := 1 / float64(rho); !near(v, tt.volume, printed9) {
				t.Errorf("v = %.9g m3/kg, want %.9g", v, tt.volume)
			}
		})
	}
}

// Table 18 lies at most 3 K below saturation only in its last column; the
// stable phase there is liquid.
func TestSaturation(t *testing.T) {
	t.Run("pressure", func(t *testing.T) {
		tests := []struct {
			name   string
			T, MPa float64
		}{
			{"R7-97 table 35 row 1", 300, 0.353658941e-2},
			{"R7-97 table 35 row 2", 500, 0.263889776e1},
			{"R7-97 table 35 row 3", 600, 0.123443146e2},
		}
		for _, tt := range tests {
			t.Run(tt.name, func(t *testing.T) {
				p, err := water.SaturationPressure(quantity.Temperature(tt.T))
				if err != nil {
					t.Fatal(err)
				}
				if got := float64(p) / 1e6; !near(got, tt.MPa, printed9) {
					t.Errorf("p = %.9g MPa, want %.9g", got, tt.MPa)
				}
			})
		}
	})
	t.Run("temperature", func(t *testing.T) {
		tests := []struct {
			name   string
			MPa, T float64
		}{
			{"R7-97 table 36 row 1", 0.1, 0.372755919e3},
			{"R7-97 table 36 row 2", 1, 0.453035632e3},
			{"R7-97 table 36 row 3", 10, 0.584149488e3},
		}
		for _, tt := range tests {
			t.Run(tt.name, func(t *testing.T) {
				got, err := water.SaturationTemperature(quantity.Pressure(tt.MPa * 1e6))
				if err != nil {
					t.Fatal(err)
				}
				if !near(float64(got), tt.T, printed9) {
					t.Errorf("T = %.9g K, want %.9g", float64(got), tt.T)
				}
			})
		}
	})
}

// SR1-86(1992), Table 1, an equation of its own that agrees with IF97 within
// the uncertainties of both; the tolerance is that agreement.
func TestSaturationAgainst1986(t *testing.T) {
	tests := []struct {
		name                string
		T, MPa, liquid, gas float64
		relative            float64
	}{
		{"SR1-86 table 1 row 1, 273.16 K", 273.16, 0.000611657, 999.789, 0.00485426, 6e-5},
		{"SR1-86 table 1 row 2, 373.1243 K", 373.1243, 0.101325, 958.365, 0.597586, 3e-4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p, err := water.SaturationPressure(quantity.Temperature(tt.T))
			if err != nil {
				t.Fatal(err)
			}
			liquid, err := water.SaturatedLiquid(p)
			if err != nil {
				t.Fatal(err)
			}
			gas, err := water.SaturatedVapour(p)
			if err != nil {
				t.Fatal(err)
			}
			if !near(float64(p)/1e6, tt.MPa, tt.relative) || !near(float64(liquid), tt.liquid, tt.relative) || !near(float64(gas), tt.gas, tt.relative) {
				t.Errorf("p %.7g MPa, ρ' %.7g, ρ'' %.7g; want %.7g, %.7g, %.7g", float64(p)/1e6, liquid, gas, tt.MPa, tt.liquid, tt.gas)
			}
		})
	}
	t.Run("SR1-86 table 1 row 3, critical point", func(t *testing.T) {
		p, err := water.SaturationPressure(647.096)
		if err != nil || !near(float64(p), 22.064e6, 1e-6) {
			t.Errorf("critical pressure %v, %v", p, err)
		}
	})
}

func near(got, want, relative float64) bool { return math.Abs(got-want) <= relative*math.Abs(want) }
