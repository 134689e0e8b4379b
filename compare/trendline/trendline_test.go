package trendline_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/trendline"
)

// Hand check: S = 37, variance 125, Z = 3.219938, Sen slope 3.0875 (own
// computation, ten values without ties).
func TestHandSeries(t *testing.T) {
	y := []float64{39.6, 43.6, 53.7, 54.1, 42.9, 55.9, 62.1, 58.7, 64.3, 73.8}
	x := make([]float64, len(y))
	for i := range x {
		x[i] = float64(i)
	}
	f := trendline.Fit(x, y, 1.96)
	for _, r := range []struct {
		name           string
		got, want, tol float64
	}{{"S", f.S, 37, 0}, {"variance", f.Var, 125, 0}, {"Z", f.Z, 3.219938, 5e-7}, {"slope", f.Slope, 3.0875, 1e-12}} {
		if math.Abs(r.got-r.want) > r.tol {
			t.Errorf("%s = %.9g, want %.9g", r.name, r.got, r.want)
		}
	}
	if !(f.Low < f.Slope && f.Slope < f.High) {
		t.Errorf("interval %.3f..%.3f does not hold the slope %.3f", f.Low, f.High, f.Slope)
	}
}

// Theil–Sen on NIST's Norris data (x and y as certified there): slope over
// the pairs with different x and median intercept, own computation.
func TestNorrisTheilSen(t *testing.T) {
	x := []float64{.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, .4, .6, 775.5, 666.9, 338, 447.5, 11.6, 556, 228.1, 995.8,
		887.6, 120.2, .3, .3, 556.8, 339.1, 887.2, 999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, .5}
	y := []float64{.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, .3, .1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998,
		888.8, 119.6, .3, .6, 557.6, 339.3, 888, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, .2}
	f := trendline.Fit(x, y, 1.96)
	if math.Abs(f.Slope-1.002196836555) > 1e-9 || math.Abs(f.Intercept+.301098418278) > 1e-6 {
		t.Errorf("slope %.12f, intercept %.12f", f.Slope, f.Intercept)
	}
}

// Ties lower the variance: with all values equal there is no trend at all.
func TestTies(t *testing.T) {
	if v := trendline.Variance([]float64{1, 1, 1, 1}); v != 0 {
		t.Errorf("variance of equal values %g", v)
	}
	f := trendline.Fit([]float64{0, 1, 2, 3, 4}, []float64{2, 2, 2, 2, 2}, 1.96)
	if f.Slope != 0 || f.Z != 0 || f.Corrected != 0 {
		t.Errorf("trend of equal values %+v", f)
	}
}

// The corrected score keeps its size on correlated values, where the plain
// one does not: nominal 5 %, sixty values, 1 500 series each, seed fixed.
func TestSizeOnCorrelatedValues(t *testing.T) {
	for _, phi := range []float64{0, .3, .6, .8} {
		t.Run(fmt.Sprint(phi), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(5, uint64(phi*10)))
			plain, corrected := 0, 0
			const runs, n = 1500, 60
			x := make([]float64, n)
			for i := range x {
				x[i] = float64(i)
			}
			for range runs {
				y, state := make([]float64, n), rng.NormFloat64()
				for i := range y {
					state = phi*state + math.Sqrt(1-phi*phi)*rng.NormFloat64()
					y[i] = state
				}
				f := trendline.Fit(x, y, 1.96)
				if math.Abs(f.Z) > 1.96 {
					plain++
				}
				if math.Abs(f.Corrected) > 1.96 {
					corrected++
				}
			}
			if got := float64(corrected) / runs; got > .085 {
				t.Errorf("corrected test rejects %.1f %%", 100*got)
			}
			if got := float64(plain) / runs; phi >= .6 && got < .2 {
				t.Errorf("plain test rejects %.1f %%: the correction would not be needed", 100*got)
			}
		})
	}
}

func TestUntil(t *testing.T) {
	f := trendline.Trend{Slope: -.4, Intercept: -2, Low: -.5, High: -.25}
	when, early, late, ok := f.Until(10, 25)
	if !ok || math.Abs(when-47.5) > 1e-9 || math.Abs(early-38) > 1e-9 || math.Abs(late-76) > 1e-9 {
		t.Errorf("reaches the limit in %.2f (%.2f..%.2f) %v", when, early, late, ok)
	}
}

func BenchmarkFit(b *testing.B) {
	x, y := make([]float64, 90), make([]float64, 90)
	for i := range x {
		x[i], y[i] = float64(i), math.Sin(float64(i))
	}
	for b.Loop() {
		trendline.Fit(x, y, 1.96)
	}
}
