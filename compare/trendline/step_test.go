package trendline_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/trendline"
)

// TestStepsAreNoTrend fits days with noise of 10 whose reference was entered
// anew twice, one of them beside a fault of three days at the beginning.
func TestStepsAreNoTrend(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	x, y := make([]float64, 64), make([]float64, 64)
	for i := range x {
		x[i], y[i] = float64(i), 10*rng.NormFloat64()
		if i < 3 {
			y[i] -= 700
		}
		if i >= 33 {
			y[i] -= 110
		}
	}
	if plain := trendline.Fit(x, y, 1.96); plain.Z > -3 || plain.Slope > -1 {
		t.Fatalf("slope %.2f with score %.1f: the steps are no trap", plain.Slope, plain.Z)
	}
	level := trendline.WithoutSteps(x, y)
	fit := trendline.Fit(x, level, 1.96)
	if math.Abs(fit.Slope) > 0.4 {
		t.Errorf("slope %.2f left", fit.Slope)
	}
	if level[63] != y[63] {
		t.Errorf("the newest value became %.1f, it was %.1f", level[63], y[63])
	}
	if y[0] > -600 {
		t.Error("the values given were changed")
	}
}

// TestSlopesAndBendsStay fits a drift from the start and one that begins in
// between, with little and with much noise: both keep their slope.
func TestSlopesAndBendsStay(t *testing.T) {
	for _, noise := range []float64{0, 0.2, 1, 4} {
		for _, begins := range []int{0, 30} {
			rng := rand.New(rand.NewPCG(3, uint64(begins)))
			x, y := make([]float64, 64), make([]float64, 64)
			for i := range x {
				x[i], y[i] = float64(i), 0.4*float64(max(0, i-begins))+noise*rng.NormFloat64()
			}
			before, after := trendline.Fit(x, y, 1.96), trendline.Fit(x, trendline.WithoutSteps(x, y), 1.96)
			if after.Slope < 0.8*before.Slope {
				t.Errorf("noise %.1f from %d: slope %.3f became %.3f", noise, begins, before.Slope, after.Slope)
			}
		}
	}
}
