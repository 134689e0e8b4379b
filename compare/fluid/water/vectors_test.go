package water_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// rows reads a file of testdata/vectors.
func rows(t testing.TB, name string) [][]string {
	t.Helper()
	file, err := os.Open("../../../testdata/vectors/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return lines[1:]
}

func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// lastDigit is half a unit of the last printed digit, relative.
func lastDigit(text string) float64 {
	v, _ := strconv.ParseFloat(text, 64)
	mantissa, _, _ := strings.Cut(text, "e")
	_, decimals, _ := strings.Cut(mantissa, ".")
	return 0.5 * math.Pow10(-len(decimals)) / v
}

// worst keeps the largest relative error of a source for the report.
type worst struct {
	source string
	error  float64
	where  string
	n      int
}

func (w *worst) note(where string, got, want float64) float64 {
	e := math.Abs(got/want - 1)
	w.n++
	if e >= w.error {
		w.error, w.where = e, where
	}
	return e
}

func (w *worst) report(t *testing.T) {
	t.Logf("%s: %d values, worst relative error %.1e at %s", w.source, w.n, w.error, w.where)
}

// Computed with python3-iapws 1.5.3-1 (Debian) and compared there with an
// independent C++ implementation: 315 densities, saturated 1 °C to 370 °C and
// single phase to 20 MPa.
func TestDensityGrid(t *testing.T) {
	summary := worst{source: "IF97 density grid, python3-iapws 1.5.3-1"}
	for _, row := range rows(t, "if97_density_grid.csv") {
		name := fmt.Sprintf("%s at %s °C, %s MPa", row[2], row[0], row[1])
		at, p := quantity.FromCelsius(number(t, row[0])), quantity.Pressure(number(t, row[1])*1e6)
		rho, err := onGrid(at, p, row[2])
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		limit := 2e-9 + lastDigit(row[3])
		if at > 623.15 {
			limit = 5e-7 // the grid's saturated densities of region 3 carry the rounding of its pressure
		}
		if e := summary.note(name, float64(rho), number(t, row[3])); e > limit {
			t.Errorf("%s: %.9g, want %s (relative error %.1e)", name, float64(rho), row[3], e)
		}
	}
	summary.report(t)
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
func TestPermittivity(t *testing.T) {
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
			if math.Abs(got-tt.eps) > 0.51*math.Pow10(-tt.decimals) {
				t.Errorf("ε = %.8f, want %.*f", got, tt.decimals, tt.eps)
			}
		})
	}
}

// Computed with python3-iapws 1.5.3-1: 207 permittivities, with the densities
// of both formulations.
func TestPermittivityGrid(t *testing.T) {
	summary := worst{source: "R8-97 permittivity grid, python3-iapws 1.5.3-1"}
	for _, row := range rows(t, "water_permittivity_grid.csv") {
		at := quantity.FromCelsius(number(t, row[0]))
		for _, column := range []int{3, 5} {
			if row[column] == "" {
				continue
			}
			name := fmt.Sprintf("%s at %s °C, %s MPa, density %s", row[2], row[0], row[1], row[column])
			eps, err := water.Permittivity(quantity.Density(number(t, row[column])), at)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			// the density is printed with nine digits, ε too
			if e := summary.note(name, eps, number(t, row[column+1])); e > 2e-8 {
				t.Errorf("%s: ε = %.9g, want %s", name, eps, row[column+1])
			}
		}
	}
	summary.report(t)
}

// Where IF97 and IAPWS-95 part: saturated densities up to 350 °C differ by
// 3.0e-5 (liquid) and 4.2e-4 (vapour), and by more towards the critical
// point. The grid's fifth column is IAPWS-95 (python3-iapws 1.5.3-1).
func TestWhereIF97AndIAPWS95Part(t *testing.T) {
	summaries := map[string]*worst{
		"sat_liquid": {source: "IF97 against IAPWS-95, saturated liquid to 350 °C"},
		"sat_vapor":  {source: "IF97 against IAPWS-95, saturated vapour to 350 °C"},
	}
	limits := map[string]float64{"sat_liquid": 3.05e-5, "sat_vapor": 4.25e-4}
	for _, row := range rows(t, "water_permittivity_grid.csv") {
		summary := summaries[row[2]]
		celsius := number(t, row[0])
		if summary == nil || celsius > 350 || row[5] == "" {
			continue
		}
		rho, err := onGrid(quantity.FromCelsius(celsius), 0, row[2])
		if err != nil {
			t.Fatal(err)
		}
		if e := summary.note(row[0]+" °C", float64(rho), number(t, row[5])); e > limits[row[2]] {
			t.Errorf("%s at %s °C: the formulations differ by %.1e", row[2], row[0], e)
		}
	}
	for _, s := range summaries {
		s.report(t)
		if s.error < 1e-6 {
			t.Errorf("%s: no difference found, the columns are not those of two formulations", s.source)
		}
	}
}
