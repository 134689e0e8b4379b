package radar_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/radar"
	"bridlewatch/testdata/vectors"
)

// saturated returns permittivity of steam and water at a pressure in bar.
func saturated(t *testing.T, bar float64) (vapour, liquid float64) {
	t.Helper()
	p := quantity.Pressure(bar * 1e5)
	sat, err := water.SaturationTemperature(p)
	if err != nil {
		t.Fatal(err)
	}
	rv, err1 := water.SaturatedVapour(p)
	rl, err2 := water.SaturatedLiquid(p)
	ev, err3 := water.Permittivity(rv, sat)
	el, err4 := water.Permittivity(rl, sat)
	for _, err := range []error{err1, err2, err3, err4} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return ev, el
}

// Distance error in saturated steam, permittivity by IAPWS R8-97 with IF97
// density, computed by an independent program (gwr_saturated_steam.csv).
func TestVectorsSaturatedSteam(t *testing.T) {
	report := vectors.NewReport(t, "radar in saturated steam, R8-97 with IF97 (gwr_saturated_steam.csv)")
	for _, row := range vectors.Read(t, "gwr_saturated_steam.csv") {
		t.Run(row["P_bar_abs"]+" bar", func(t *testing.T) {
			v, l := saturated(t, row.Number(t, "P_bar_abs"))
			k, err := radar.NewCorrection(v, 1)
			if err != nil {
				t.Fatal(err)
			}
			report.Within(t, "permittivity of steam at "+row["P_bar_abs"]+" bar", v, row.Number(t, "eps_v"), 1e-8)
			vectors.Within(t, "error, %", 100*k.Error(), row.Number(t, "apparent_distance_error_pct"), 6e-6)
			vectors.Within(t, "reflected power", radar.Reflection(l, v), row.Number(t, "power_reflection_at_surface"), 6e-7)
		})
	}
}

// The same table at round values of gauge pressure in psi, 14.696 psi of
// atmosphere.
func TestVectorsSaturatedSteamPsig(t *testing.T) {
	for _, c := range []struct{ psig, percent float64 }{
		{0, 0.294}, {100, 1.733}, {150, 2.375}, {300, 4.213}, {600, 7.828}, {900, 11.615},
		{1200, 15.753}, {1500, 20.418}, {1800, 25.847}, {2000, 30.066}, {2350, 39.215},
	} {
		t.Run(fmt.Sprintf("%g psig", c.psig), func(t *testing.T) {
			v, _ := saturated(t, (c.psig+14.6959488)*0.06894757293)
			k, _ := radar.NewCorrection(v, 0)
			vectors.Within(t, "error, %", 100*k.Error(), c.percent, 1.5e-3)
		})
	}
}

// A device told the permittivity at working pressure is left with the
// difference: √(ε/ε0) − 1.
func TestPartlyCorrected(t *testing.T) {
	v40, _ := saturated(t, 40)
	v60, _ := saturated(t, 60)
	k, err := radar.NewCorrection(v60, v40)
	if err != nil {
		t.Fatal(err)
	}
	vectors.Within(t, "told 40 bar, at 60 bar, %", 100*k.Error(), 100*(math.Sqrt(1.232886/1.153628)-1), 1e-4)
	if k, _ := radar.NewCorrection(v60, v60); k != 1 {
		t.Errorf("told the truth: correction %v", k)
	}
}

func TestReflector(t *testing.T) {
	v, _ := saturated(t, 40)
	byState, _ := radar.NewCorrection(v, 1)
	byMark, err := radar.ByReflector(0.3, byState.Reported(0.3))
	if err != nil {
		t.Fatal(err)
	}
	vectors.Within(t, "true distance by either way, m", float64(byMark.True(byState.Reported(1.234))), 1.234, 1e-12)
	if _, err := radar.ByReflector(0, 0.3); err == nil {
		t.Error("reflector at 0: no error")
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range [][2]float64{{0.99, 1}, {1, 0.5}, {math.NaN(), 1}} {
		if k, err := radar.NewCorrection(c[0], c[1]); err == nil {
			t.Errorf("%v: correction %v, want an error", c, k)
		}
	}
}

func TestInterface(t *testing.T) {
	vectors.Within(t, "0.2 m of oil of permittivity 2.25, m", float64(radar.Interface(0.2, 2.25)), 0.3, 1e-15)
}

func TestIdentities(t *testing.T) {
	const seed = 20260113
	rng := rand.New(rand.NewPCG(seed, 1))
	for range 1000 {
		eps, told, d := 1+rng.Float64(), 1+0.2*rng.Float64(), quantity.Length(3*rng.Float64())
		k, _ := radar.NewCorrection(eps, told)
		vectors.Within(t, "there and back", float64(k.True(k.Reported(d))), float64(d), 1e-14)
		const h = 1e-6
		up, _ := radar.NewCorrection(eps+h, told)
		down, _ := radar.NewCorrection(eps-h, told)
		reported := k.Reported(d)
		vectors.Within(t, "dD/deps", radar.PerPermittivity(d, eps), float64(up.True(reported)-down.True(reported))/(2*h), 1e-7)
	}
}
