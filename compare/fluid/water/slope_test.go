package water_test

import (
	"math"
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// The slope of the liquid's density is the derivative of the density: central
// differences over ±h leave h² times its third derivative.
func TestSlopeOfLiquidIsTheDerivative(t *testing.T) {
	const h = 0.01
	for _, P := range []float64{1e5, 1e6, 5e6, 15e6, 19e6, 21e6, 25e6, 60e6, 100e6} {
		isobar := water.At(quantity.Pressure(P))
		for T := 273.5; T < 646; T += 2.7 {
			at := func(T float64) float64 {
				rho, _, err := isobar.Liquid(quantity.Temperature(T))
				if err != nil {
					return math.NaN()
				}
				return float64(rho)
			}
			_, slope, err := isobar.Liquid(quantity.Temperature(T))
			if boiling, _, ok := isobar.BoilingPoint(); err != nil || ok && T+h > float64(boiling) || math.Abs(T-623.15) <= h {
				continue
			}
			if want := (at(T+h) - at(T-h)) / (2 * h); !(math.Abs(slope-want) <= 5e-6*math.Abs(want)+1e-7) {
				t.Errorf("%.2f K, %.0f bar: slope %.9g, differences give %.9g kg/(m3 K)", T, P/1e5, slope, want)
			}
		}
	}
}

// Liquid that is measured hotter than it can be follows the pressure alone.
func TestNoSlopeAboveBoiling(t *testing.T) {
	isobar := water.At(4e6)
	boiling, _, _ := isobar.BoilingPoint()
	if _, slope, err := isobar.Liquid(boiling); err != nil || !(slope < -1) {
		t.Errorf("boiling: slope %v (%v), want that of the liquid", slope, err)
	}
	if _, slope, err := isobar.Liquid(boiling + 1); err != nil || slope != 0 {
		t.Errorf("1 K above boiling: slope %v (%v), want 0", slope, err)
	}
}

// The slope of the boiling point is the derivative of equation (31).
func TestSlopeOfBoilingPointIsTheDerivative(t *testing.T) {
	for P := 700.0; P < 22e6; P *= 1.03 {
		const h = 1e-4 // relative
		up, err1 := water.SaturationTemperature(quantity.Pressure(P * (1 + h)))
		down, err2 := water.SaturationTemperature(quantity.Pressure(P * (1 - h)))
		isobar := water.At(quantity.Pressure(P))
		at, slope, ok := isobar.BoilingPoint()
		if err1 != nil || err2 != nil || !ok {
			t.Fatal(err1, err2, ok)
		}
		if back, _ := water.SaturationTemperature(quantity.Pressure(P)); back != at {
			t.Errorf("%.0f Pa: boils at %v K and at %v K", P, at, back)
		}
		if want := float64(up-down) / (2 * h * P); math.Abs(slope/want-1) > 1e-6 {
			t.Errorf("%.0f Pa: slope %.9g, differences give %.9g K/Pa", P, slope, want)
		}
	}
}

// An isobar gives what the functions of pressure and temperature give.
func TestIsobarIsTheSameWater(t *testing.T) {
	for _, P := range []float64{300, 1e5, 4e6, 18e6, 22.064e6, 30e6} {
		p := quantity.Pressure(P)
		isobar := water.At(p)
		for T := 273.15; T < 1073; T += 3.3 {
			temperature := quantity.Temperature(T)
			a, errA := water.LiquidDensity(temperature, p)
			b, _, errB := isobar.Liquid(temperature)
			if a != b || (errA == nil) != (errB == nil) {
				t.Errorf("liquid at %v K, %v Pa: %v (%v) and %v (%v)", T, P, a, errA, b, errB)
			}
			at, rho, err := isobar.Steam(temperature)
			eps, epsErr := isobar.Permittivity(at, rho)
			if wantEps, e := water.Permittivity(rho, at); eps != wantEps || (e == nil) != (epsErr == nil) {
				t.Errorf("steam at %v K, %v Pa: permittivity %v (%v), want %v (%v)", T, P, eps, epsErr, wantEps, e)
			}
			want, wantErr := water.VapourDensity(temperature, p)
			if boiling, e := water.SaturationTemperature(p); e == nil && temperature <= boiling {
				want, wantErr = water.SaturatedVapour(p)
				temperature = boiling
			}
			if rho != want || (err == nil) != (wantErr == nil) || at != temperature {
				t.Errorf("steam at %v K, %v Pa: %v at %v K (%v), want %v at %v K (%v)", T, P, rho, at, err, want, temperature, wantErr)
			}
		}
	}
}
