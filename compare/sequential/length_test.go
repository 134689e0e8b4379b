package sequential_test

import (
	"fmt"
	"math"
	"testing"

	"bridlewatch/compare/sequential"
)

func near(t *testing.T, got, want, rel float64) {
	t.Helper()
	if math.Abs(got-want) > rel*math.Abs(want) {
		t.Errorf("got %.6g, want %.6g within %g", got, want, rel)
	}
}

// Montgomery, Introduction to Statistical Quality Control, table of two-sided
// CUSUM run lengths, k = 0.5 (from memory); the h = 4 column is also Lucas &
// Crosier 1982, table 1. Printed digits are the tolerance.
func TestRunLengthMontgomery(t *testing.T) {
	rows := []struct{ h, shift, want, digit float64 }{
		{4, 0, 168, 1}, {4, .25, 74.2, .1}, {4, .5, 26.6, .1}, {4, .75, 13.3, .1}, {4, 1, 8.38, .01},
		{4, 1.5, 4.75, .01}, {4, 2, 3.34, .01}, {4, 2.5, 2.62, .01}, {4, 3, 2.19, .01}, {4, 4, 1.71, .01},
		{5, 0, 465, 1}, {5, .25, 139, 1}, {5, .5, 38.0, .1}, {5, .75, 17.0, .1}, {5, 1, 10.4, .1},
		{5, 1.5, 5.75, .01}, {5, 2, 4.01, .01}, {5, 2.5, 3.11, .01}, {5, 3, 2.57, .01}, {5, 4, 2.01, .01},
	}
	for _, r := range rows {
		t.Run(fmt.Sprintf("h=%g/shift=%g", r.h, r.shift), func(t *testing.T) {
			got := sequential.TwoSided(sequential.ARL(.5, r.h, r.shift, 0), sequential.ARL(.5, r.h, -r.shift, 0))
			if math.Abs(got-r.want) > 0.6*r.digit {
				t.Errorf("run length %.4f, printed %g", got, r.want)
			}
		})
	}
}

// Published single values: Brook & Evans 1972, Vance 1986, Waldmann 1986 and
// the SAS/QC documentation, as collected in the manual page xcusum.arl of the
// R package spc.
func TestRunLengthPublished(t *testing.T) {
	rows := []struct {
		name               string
		k, h, mu, head     float64
		want, relTolerance float64
	}{
		{"Brook & Evans in control", .5, 3, 0, 0, 117.59, 2e-4},
		{"Brook & Evans 1.5", .5, 3, 1.5, 0, 3.75, 2e-3},
		{"Vance -.25", 0, 10, -.25, 0, 2071.51, 1e-4},
		{"Vance -.125", 0, 10, -.125, 0, 400.28, 1e-4},
		{"Vance 0", 0, 10, 0, 0, 124.66, 1e-4},
		{"Vance .125", 0, 10, .125, 0, 59.30, 2e-4},
		{"Vance .25", 0, 10, .25, 0, 36.71, 2e-4},
		{"Vance .5", 0, 10, .5, 0, 20.37, 3e-4},
		{"Vance .75", 0, 10, .75, 0, 14.06, 5e-4},
		{"Vance 1", 0, 10, 1, 0, 10.75, 5e-4},
		{"Waldmann -.5", .5, 3, -.5, 0, 1963, 5e-4},
		{"Waldmann .5", .5, 3, .5, 0, 17.35, 5e-4},
		{"SAS/QC one-sided", .25, 8, 2.5, 0, 4.1500836225, 1e-6},
		{"SAS/QC head start .1", .25, 8, 2.5, .1, 4.1061588131, 1e-6},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) { near(t, sequential.ARL(r.k, r.h, r.mu, r.head), r.want, r.relTolerance) })
	}
}

// SAS/QC documentation, two-sided, as quoted in the R package spc.
func TestRunLengthTwoSidedSAS(t *testing.T) {
	got := sequential.TwoSided(sequential.ARL(.25, 8, 2.5, 0), sequential.ARL(.25, 8, -2.5, 0))
	near(t, got, 4.1500826715, 1e-6)
}

// Siegmund's approximation at h = 4, k = 0.5, two-sided: the exact values are
// those of Montgomery's table; the formula is within 1 % down to a run length
// of eight.
func TestSiegmundCloseToExact(t *testing.T) {
	for _, shift := range []float64{0, .25, .5, .75, 1} {
		exact := sequential.TwoSided(sequential.ARL(.5, 4, shift, 0), sequential.ARL(.5, 4, -shift, 0))
		near(t, sequential.TwoSided(sequential.Siegmund(.5, 4, shift), sequential.Siegmund(.5, 4, -shift)), exact, .01)
	}
	near(t, sequential.Siegmund(.5, 4, .5), 5.166*5.166, 1e-9)
}

// Crowder 1987 and Lucas & Saccucci 1990 as quoted in the manual page
// xewma.arl of the R package spc; SAS/QC lambda .25.
func TestEWMARunLengths(t *testing.T) {
	rows := []struct {
		name               string
		lambda, c, mu      float64
		want, absTolerance float64
	}{
		{"Crowder .5 0", .5, 2, 0, 26.45, .006}, {"Crowder .5 .25", .5, 2, .25, 20.12, .006},
		{"Crowder .5 .5", .5, 2, .5, 11.89, .006}, {"Crowder .5 1", .5, 2, 1, 4.91, .006},
		{"Crowder .5 3", .5, 2, 3, 1.26, .006}, {"Crowder .05 0", .05, 2, 0, 127.53, .006},
		{"Crowder .05 .25", .05, 2, .25, 43.94, .006}, {"Crowder .05 .5", .05, 2, .5, 18.97, .006},
		{"Crowder .05 1", .05, 2, 1, 8.38, .006}, {"Crowder .05 2", .05, 2, 2, 4.04, .006},
		{"Crowder .05 3", .05, 2, 3, 2.76, .006},
		{"Lucas & Saccucci .5 0", .5, 3.071, 0, 500, .6}, {"Lucas & Saccucci .5 .5", .5, 3.071, .5, 88.8, .06},
		{"Lucas & Saccucci .5 1", .5, 3.071, 1, 17.5, .06}, {"Lucas & Saccucci .5 3", .5, 3.071, 3, 1.93, .006},
		{"SAS/QC .25", .25, 3, 1, 11.154267016, 1e-6},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := sequential.EWMALength(r.lambda, r.c, r.mu)
			if math.Abs(got-r.want) > r.absTolerance {
				t.Errorf("run length %.5f, published %g", got, r.want)
			}
		})
	}
}

// Moustakides, Polunchenko & Tartakovsky 2009, table 4, change of one standard
// deviation: limit, run length without and with the change.
func TestRobertsRunLengths(t *testing.T) {
	for _, r := range []struct{ limit, arl0, delay float64 }{
		{28.02, 50.79, 5.46}, {56.04, 100.79, 6.71}, {280.19, 500.8, 9.78}, {560.37, 1000.79, 11.14},
	} {
		t.Run(fmt.Sprint(r.limit), func(t *testing.T) {
			near(t, sequential.RobertsLength(1, r.limit, 0), r.arl0, 2e-3)
			near(t, sequential.RobertsLength(1, r.limit, 1), r.delay, 2e-3)
		})
	}
}
