package water_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

func mustDensity(t testing.TB, T, P float64) float64 {
	t.Helper()
	rho, err := water.Density(quantity.Temperature(T), quantity.Pressure(P))
	if err != nil {
		t.Fatalf("%v K, %v Pa: %v", T, P, err)
	}
	return float64(rho)
}

// Equations (30) and (31) of R7-97 are one equation solved both ways.
func TestSaturationIsItsOwnInverse(t *testing.T) {
	for T := 273.15; T <= 647.096; T += 0.37 {
		p, err := water.SaturationPressure(quantity.Temperature(T))
		if err != nil {
			t.Fatal(err)
		}
		back, err := water.SaturationTemperature(p)
		if err != nil || math.Abs(float64(back)-T) > 1e-8 {
			t.Errorf("%v K came back as %v K (%v)", T, back, err)
		}
	}
}

// R7-97 states that the regions meet within small tolerances: at 623.15 K
// regions 1 and 3 and regions 2 and 3 differ in volume by at most 0.05 %
// (section 8, the value from memory).
func TestRegionsMeet(t *testing.T) {
	largest := 0.0
	compare := func(name string, a, b, limit float64) {
		e := math.Abs(a/b - 1)
		largest = max(largest, e)
		if e > limit {
			t.Errorf("%s: density jumps from %v to %v (%.1e)", name, a, b, e)
		}
	}
	for P := 16.6e6; P <= 100e6; P += 0.4e6 {
		compare("region 1 to 3", mustDensity(t, 623.15, P), mustDensity(t, 623.15+1e-9, P), 5e-4)
	}
	for T := 624.0; T <= 863; T += 1 {
		P := border23(T)
		compare("region 2 to 3", mustDensity(t, T, P*(1-1e-9)), mustDensity(t, T, P*(1+1e-9)), 5e-4)
	}
	for P := 1e5; P <= 100e6; P += 1e6 {
		compare("within region 2 at 863.15 K", mustDensity(t, 863.15, P), mustDensity(t, 863.15+1e-9, P), 5e-4)
	}
	t.Logf("largest jump of density over a border: %.1e", largest)
}

// border23 repeats eq. (5) of R7-97, in Pa.
func border23(T float64) float64 {
	return (348.05185628969 - 1.1671859879975*T + 0.0010192970039326*T*T) * 1e6
}

// Density rises with pressure at constant temperature everywhere, and falls
// with temperature at constant pressure above the density maximum of water.
func TestMonotony(t *testing.T) {
	source := rand.New(rand.NewPCG(1997, 2012))
	for range 20000 {
		T := 273.15 + 800*source.Float64()
		P := 100e6 * math.Pow(source.Float64(), 3)
		if P < 1 {
			continue
		}
		rho := mustDensity(t, T, P)
		if more := mustDensity(t, T, min(P*1.001, 100e6)); more < rho*(1-1e-12) {
			t.Fatalf("density falls with pressure at %v K, %v Pa: %v to %v", T, P, rho, more)
		}
		if T > 285 && T < 1073 {
			if hotter := mustDensity(t, T+0.1, P); hotter > rho*(1+1e-9) && !acrossBorder(T, P) {
				t.Fatalf("density rises with temperature at %v K, %v Pa: %v to %v", T, P, rho, hotter)
			}
		}
	}
}

// acrossBorder: the regions meet only within tolerances, so that a step over
// a border may go the wrong way by a few parts in ten thousand.
func acrossBorder(T, P float64) bool {
	return T <= 623.15 && T+0.1 > 623.15 || T <= 863.15 && T+0.1 > 863.15 ||
		(T > 623 && T < 864 && (P-border23(T))*(P-border23(T+0.1)) < 0)
}

// Saturated states of region 3 up to where they end.
func TestSaturationInRegion3(t *testing.T) {
	lastLiquid, lastVapour := 600.0, 100.0
	for T := 623.2; T < 647.0; T += 0.2 {
		p, err := water.SaturationPressure(quantity.Temperature(T))
		if err != nil {
			t.Fatal(err)
		}
		liquid, err := water.SaturatedLiquid(p)
		if err != nil {
			t.Fatalf("%v K: %v", T, err)
		}
		vapour, err := water.SaturatedVapour(p)
		if err != nil {
			t.Fatalf("%v K: %v", T, err)
		}
		if !(float64(liquid) < lastLiquid && float64(vapour) > lastVapour && liquid > vapour) {
			t.Errorf("at %v K liquid %v, vapour %v after %v, %v", T, liquid, vapour, lastLiquid, lastVapour)
		}
		lastLiquid, lastVapour = float64(liquid), float64(vapour)
	}
	var rangeError *quantity.RangeError
	if _, err := water.SaturatedLiquid(22.06e6); !errors.As(err, &rangeError) {
		t.Errorf("a saturated density was given 0.1 K below the critical point: %v", err)
	}
}

// A liquid a little above its boiling point is boiling liquid; further above
// it is refused. Steam a little below is metastable.
func TestAroundSaturation(t *testing.T) {
	boiling, err := water.SaturationTemperature(1e6)
	if err != nil {
		t.Fatal(err)
	}
	want, err := water.SaturatedLiquid(1e6)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := water.LiquidDensity(boiling+3, 1e6); err != nil || math.Abs(float64(got-want)) > 1e-9 {
		t.Errorf("3 K above boiling: %v, %v; want %v", got, err, want)
	}
	var rangeError *quantity.RangeError
	if _, err := water.LiquidDensity(boiling+6, 1e6); !errors.As(err, &rangeError) {
		t.Errorf("6 K above boiling: %v", err)
	}
	dry, err := water.SaturatedVapour(1e6)
	if err != nil {
		t.Fatal(err)
	}
	// IF97 joins its equation for metastable steam to region 2 within 0.03 %.
	if got, err := water.VapourDensity(boiling-1e-6, 1e6); err != nil || math.Abs(float64(got/dry)-1) > 3e-4 {
		t.Errorf("just below saturation: %v, %v; want %v", got, err, dry)
	}
	if _, err := water.VapourDensity(boiling-26, 1e6); !errors.As(err, &rangeError) {
		t.Errorf("26 K below saturation: %v", err)
	}
	if _, err := water.VapourDensity(574, 10e6); !errors.As(err, &rangeError) || math.Abs(rangeError.Low-574.15) > 0.01 {
		t.Errorf("10 K below saturation at 10 MPa: %v", err)
	}
	if _, err := water.VapourDensity(580, 15e6); !errors.As(err, &rangeError) {
		t.Errorf("metastable above 10 MPa: %v", err)
	}
}

func TestOutOfRange(t *testing.T) {
	tests := []struct {
		name string
		T, P float64
	}{
		{"ice", 273.1, 1e5}, {"region 5", 1100, 1e5}, {"no pressure", 300, 0}, {"negative pressure", 300, -1},
		{"too much pressure", 300, 100.1e6}, {"not a temperature", math.NaN(), 1e5}, {"not a pressure", 300, math.NaN()}, {"infinite", math.Inf(1), 1e5},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rho, err := water.Density(quantity.Temperature(tt.T), quantity.Pressure(tt.P))
			var rangeError *quantity.RangeError
			if !errors.As(err, &rangeError) || rho != 0 || rangeError.Remedy == "" {
				t.Errorf("got %v, %v; want a *RangeError with a remedy", rho, err)
			}
		})
	}
	var rangeError *quantity.RangeError
	if _, err := water.Permittivity(500, 900); !errors.As(err, &rangeError) {
		t.Errorf("permittivity above 873.15 K: %v", err)
	}
	if _, err := water.Permittivity(-1, 400); !errors.As(err, &rangeError) {
		t.Errorf("permittivity of a negative density: %v", err)
	}
}

// Permittivity of an evacuated space is one, and it rises with density.
func TestPermittivityIdentities(t *testing.T) {
	for T := 240.0; T <= 870; T += 30 {
		last := 0.0
		for rho := 0.0; rho <= 1000; rho += 20 {
			eps, err := water.Permittivity(quantity.Density(rho), quantity.Temperature(T))
			if err != nil || eps <= last {
				t.Fatalf("%v K, %v kg/m3: %v after %v, %v", T, rho, eps, last, err)
			}
			if rho == 0 && math.Abs(eps-1) > 1e-12 {
				t.Errorf("vacuum at %v K: ε = %v", T, eps)
			}
			last = eps
		}
	}
}

// Whatever the numbers, a density is positive and finite or an error of the
// right type, and the three functions agree about the stable phase.
func FuzzDensity(f *testing.F) {
	for _, s := range [][2]float64{{300, 1e5}, {647.096, 22.064e6}, {646.99, 22.03e6}, {623.15, 16.5291643e6}, {863.15, 100e6}, {273.15, 611.2}} {
		f.Add(s[0], s[1])
	}
	f.Fuzz(func(t *testing.T, T, P float64) {
		at, p := quantity.Temperature(T), quantity.Pressure(P)
		rho, err := water.Density(at, p)
		checkResult(t, T, P, float64(rho), err)
		liquid, errLiquid := water.LiquidDensity(at, p)
		checkResult(t, T, P, float64(liquid), errLiquid)
		vapour, errVapour := water.VapourDensity(at, p)
		checkResult(t, T, P, float64(vapour), errVapour)
		if err == nil && errLiquid == nil && errVapour == nil && T < 646 && rho != liquid && rho != vapour && math.Abs(float64(rho/liquid)-1) > 1e-6 {
			t.Errorf("%v K, %v Pa: stable %v is neither liquid %v nor vapour %v", T, P, rho, liquid, vapour)
		}
	})
}

func checkResult(t *testing.T, T, P, rho float64, err error) {
	t.Helper()
	var rangeError *quantity.RangeError
	switch {
	case err != nil && !errors.As(err, &rangeError):
		t.Errorf("%v K, %v Pa: error of another type: %v", T, P, err)
	case err == nil && !(rho > 0 && rho < 1200):
		t.Errorf("%v K, %v Pa: density %v", T, P, rho)
	}
}
