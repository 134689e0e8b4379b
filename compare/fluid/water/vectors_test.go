package water_test

import (
	"fmt"
	"math"
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

// The printed values of R7-97(2012) have nine significant digits: half a unit
// of the last is at most 5e-9 of the value.
const printed9 = 5e-9

// Tables 5 (region 1), 15 (region 2) and 18 (metastable vapour).
func TestVectorsSpecificVolume(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS R7-97(2012), Tables 5, 15 and 18, specific volume")
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
			if v := 1 / float64(rho); report.Relative(tt.name, v, tt.volume) > printed9 {
				t.Errorf("v = %.9g m3/kg, want %.9g", v, tt.volume)
			}
		})
	}
}

// Table 35: pressure from temperature.
func TestVectorsSaturationPressure(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS R7-97(2012), Table 35, saturation pressure")
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
			if got := float64(p) / 1e6; report.Relative(tt.name, got, tt.MPa) > printed9 {
				t.Errorf("p = %.9g MPa, want %.9g", got, tt.MPa)
			}
		})
	}
}

// Table 36: temperature from pressure.
func TestVectorsSaturationTemperature(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS R7-97(2012), Table 36, saturation temperature")
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
			if report.Relative(tt.name, float64(got), tt.T) > printed9 {
				t.Errorf("T = %.9g K, want %.9g", float64(got), tt.T)
			}
		})
	}
}

// SR1-86(1992), Table 1, is an equation of its own that agrees with IF97
// within the uncertainties of both; the tolerance is that agreement.
func TestVectorsSaturation1986(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS SR1-86(1992), Table 1, saturation, another equation than IF97")
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
			for _, v := range []struct {
				what      string
				got, want float64
			}{{"pressure/MPa", float64(p) / 1e6, tt.MPa}, {"ρ'", float64(liquid), tt.liquid}, {"ρ''", float64(gas), tt.gas}} {
				if report.Relative(tt.name+" "+v.what, v.got, v.want) > tt.relative {
					t.Errorf("%s = %.7g, want %.7g", v.what, v.got, v.want)
				}
			}
		})
	}
	t.Run("SR1-86 table 1 row 3, critical point", func(t *testing.T) {
		p, err := water.SaturationPressure(647.096)
		if err != nil || report.Relative("critical pressure", float64(p)/1e6, 22.064) > 1e-6 {
			t.Errorf("critical pressure %v, %v", p, err)
		}
	})
}

// Computed with python3-iapws 1.5.3-1 (Debian) and compared there with an
// independent C++ implementation: 315 densities, saturated 1 °C to 370 °C and
// single phase to 20 MPa.
func TestVectorsDensityGrid(t *testing.T) {
	report := vectors.NewReport(t, "IF97 density grid, computed with python3-iapws 1.5.3-1")
	for _, row := range vectors.Read(t, "if97_density_grid.csv") {
		name := fmt.Sprintf("%s at %s °C, %s MPa", row["phase"], row["T_C"], row["P_MPa_abs"])
		at, p := quantity.FromCelsius(row.Number(t, "T_C")), quantity.Pressure(row.Number(t, "P_MPa_abs")*1e6)
		rho, err := onGrid(at, p, row["phase"])
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		want := row.Number(t, "rho_kg_m3")
		if e := report.Relative(name, float64(rho), want); e > 2e-9+vectors.HalfDigit(row["rho_kg_m3"])/want {
			t.Errorf("%s: %.9g, want %.9g (relative error %.1e)", name, float64(rho), want, e)
		}
	}
}

func onGrid(at quantity.Temperature, p quantity.Pressure, phase string) (quantity.Density, error) {
	switch phase {
	case "sat_liquid", "sat_vapor":
		p, err := water.SaturationPressure(at)
		if err != nil {
			return 0, err
		}
		if phase == "sat_liquid" {
			return water.SaturatedLiquid(p)
		}
		return water.SaturatedVapour(p)
	case "liquid":
		return water.LiquidDensity(at, p)
	}
	return water.VapourDensity(at, p)
}

// IAPWS R8-97, Table 4. The release states pressure and temperature; the
// densities there are from IAPWS-95 (computed with python3-iapws 1.5.3-1).
func TestVectorsPermittivity(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS R8-97, Table 4, permittivity, densities of IAPWS-95")
	tests := []struct {
		name     string
		rho, T   float64
		eps      float64
		decimals int
	}{
		{"R8-97 table 4, 240 K 0.101325 MPa", 978.895788, 240, 104.34982, 5},
		{"R8-97 table 4, 300 K 0.101325 MPa", 996.556935, 300, 77.74735, 5},
		{"R8-97 table 4, 300 K 10 MPa", 1000.955030, 300, 78.11269, 5},
		{"R8-97 table 4, 300 K 1000 MPa", 1237.516574, 300, 103.69632, 5},
		{"R8-97 table 4, 650 K 10 MPa", 40.478868, 650, 1.26715, 5},
		{"R8-97 table 4, 650 K 100 MPa", 726.211744, 650, 17.71733, 5},
		{"R8-97 table 4, 650 K 500 MPa", 947.357350, 650, 26.62132, 5},
		{"R8-97 table 4, 870 K 10 MPa", 26.171739, 870, 1.12721, 5},
		{"R8-97 table 4, 870 K 100 MPa", 378.127411, 870, 4.98281, 5},
		{"R8-97 table 4, 870 K 500 MPa", 810.934884, 870, 15.09746, 5},
		{"python3-iapws, 298.15 K", 999.242866, 298.15, 78.5907250, 7},
		{"python3-iapws, 873.15 K", 26.0569558, 873.15, 1.12620970, 8},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := water.Permittivity(quantity.Density(tt.rho), quantity.Temperature(tt.T))
			if err != nil {
				t.Fatal(err)
			}
			report.Relative(tt.name, got, tt.eps)
			if math.Abs(got-tt.eps) > 0.51*math.Pow10(-tt.decimals) {
				t.Errorf("ε = %.8f, want %.*f", got, tt.decimals, tt.eps)
			}
		})
	}
}

// Computed with python3-iapws 1.5.3-1: 207 states, with the densities of both
// formulations, printed like ε with nine digits.
func TestVectorsPermittivityGrid(t *testing.T) {
	report := vectors.NewReport(t, "R8-97 permittivity grid, computed with python3-iapws 1.5.3-1")
	for _, row := range vectors.Read(t, "water_permittivity_grid.csv") {
		at := quantity.FromCelsius(row.Number(t, "T_C"))
		for _, c := range [][2]string{{"rho_if97_kg_m3", "eps_r_with_if97_rho"}, {"rho_iapws95_kg_m3", "eps_r_with_iapws95_rho"}} {
			name := fmt.Sprintf("%s at %s °C, %s %s", row["phase"], row["T_C"], c[0], row[c[0]])
			eps, err := water.Permittivity(quantity.Density(row.Number(t, c[0])), at)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			if e := report.Relative(name, eps, row.Number(t, c[1])); e > 2e-8 {
				t.Errorf("%s: ε = %.9g, want %s", name, eps, row[c[1]])
			}
		}
	}
}

// Where IF97 and IAPWS-95 part: saturated densities up to 350 °C differ by
// 3.0e-5 (liquid) and 4.2e-4 (vapour), and by more towards the critical
// point.
func TestVectorsWhereIF97AndIAPWS95Part(t *testing.T) {
	for phase, limit := range map[string]float64{"sat_liquid": 3.05e-5, "sat_vapor": 4.25e-4} {
		t.Run(phase, func(t *testing.T) {
			report := vectors.NewReport(t, "IAPWS-95 densities (python3-iapws 1.5.3-1), "+phase+" to 350 °C: how far IF97 is from them")
			largest := 0.0
			for _, row := range vectors.Read(t, "water_permittivity_grid.csv") {
				celsius := row.Number(t, "T_C")
				if row["phase"] != phase || celsius > 350 {
					continue
				}
				rho, err := onGrid(quantity.FromCelsius(celsius), 0, phase)
				if err != nil {
					t.Fatal(err)
				}
				e := report.Relative(row["T_C"]+" °C", float64(rho), row.Number(t, "rho_iapws95_kg_m3"))
				largest = max(largest, e)
			}
			if largest > limit || largest < 1e-6 {
				t.Errorf("the two formulations differ by %.1e, want up to %.1e", largest, limit)
			}
		})
	}
}
