package sequential_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/sequential"
)

// standard is the textbook CUSUM with reference value k and threshold h in
// standard deviations, written as a log-likelihood ratio: D0 = 0, D1 = 2k.
func standard(k, h float64) sequential.Design {
	return sequential.Design{D0: 0, D1: 2 * k, S: 1, H: h * 2 * k, Blocks: 1e-9}
}

// Montgomery's data as printed on an IMSL help page: mean 10, sigma 1,
// k = 0.5, h = 5; the upper sum first signals at observation 29.
func TestCusumMontgomerySeries(t *testing.T) {
	x := []float64{9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08,
		9.37, 10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52}
	d, c, e := standard(.5, 5), sequential.Cusum{}, sequential.EWMA{}
	first, firstE := 0, 0
	for i, v := range x {
		c.Add(d, v-10, int64(i))
		e.Add(.1, 10, v)
		if first == 0 && c.Up > 5 {
			first = i + 1
		}
		if firstE == 0 && math.Abs(e.Z-10) > 2.7*e.Sigma(.1, 1) {
			firstE = i + 1
			near(t, e.Z, 10.64682, 1e-6)
		}
		if i+1 == 28 {
			near(t, c.Up, 4.47, 1e-9)
		}
		if i+1 == 29 {
			near(t, c.Up, 5.28, 1e-9)
		}
	}
	if first != 29 || firstE != 29 {
		t.Errorf("first signal: CUSUM %d, EWMA %d, want 29 and 29", first, firstE)
	}
}

// NIST/SEMATECH e-Handbook, CUSUM example (from memory): mean 325,
// k = 0.3175, h = 4.1959; the upper sum signals at group 14 with 4.94.
func TestCusumNISTSeries(t *testing.T) {
	x := []float64{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625,
		325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350}
	want := map[int]float64{13: 3.01, 14: 4.94, 15: 7.45, 16: 10.63, 17: 11.99, 18: 14.44, 19: 16.00, 20: 19.04}
	// in units of the data: D1 = 2k, S² = D1 makes nats equal to the plain sum
	d := sequential.Design{D0: 0, D1: 2 * .3175, S: math.Sqrt(2 * .3175), H: 4.1959, Blocks: 1e-9}
	c, first, down := sequential.Cusum{}, 0, 0.0
	for i, v := range x {
		c.Add(d, v-325, int64(i))
		down = math.Max(down, c.Down)
		if first == 0 && c.Up > 4.1959 {
			first = i + 1
		}
		if w, ok := want[i+1]; ok && math.Abs(c.Up-w) > .006 {
			t.Errorf("group %d: upper sum %.4f, printed %.2f", i+1, c.Up, w)
		}
	}
	if first != 14 || math.Abs(down-.72) > .006 {
		t.Errorf("first signal %d, largest lower sum %.3f; want 14, 0.72", first, down)
	}
}

// NIST/SEMATECH e-Handbook, EWMA example (from memory): mean 50, s 2.0539,
// lambda 0.3, limits 52.5884 and 47.4116.
func TestEWMANISTSeries(t *testing.T) {
	x := []float64{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	want := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	var e sequential.EWMA
	for i, v := range x {
		e.Add(.3, 50, v)
		if math.Abs(e.Z-want[i]) > .006 {
			t.Errorf("value %d: %.4f, printed %.2f", i+1, e.Z, want[i])
		}
	}
	e.Left = 0
	near(t, 50+3*e.Sigma(.3, 2.0539), 52.5884, 2e-6)
}

// Gan 1992: k = 0.25, h = 8, mean grows by delta per observation (manual page
// xDcusum.arl of the R package spc). Monte Carlo, seed fixed; the first
// observation carries no shift.
func TestCusumDriftGan(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, r := range []struct{ delta, want float64 }{{.01, 52.0}, {.02, 35.2}, {.05, 21.4}, {.1, 15.0}, {.5, 6.95}, {1, 5.16}, {3, 3.30}} {
		t.Run(fmt.Sprint(r.delta), func(t *testing.T) {
			const runs = 4000
			total := 0
			for range runs {
				d, c := standard(.25, 8), sequential.Cusum{}
				for n := 1; ; n++ {
					c.Add(d, rng.NormFloat64()+float64(n-1)*r.delta, 0)
					if c.Up > d.H {
						total += n
						break
					}
				}
			}
			near(t, float64(total)/runs, r.want, .03)
		})
	}
}

// The mean time to a false crossing of the two-sided textbook CUSUM (k = 0.5,
// h = 5) is 465, and never below e^h nats one-sided.
func TestCusumFalseRate(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const runs = 4000
	total := 0
	for range runs {
		d, c := standard(.5, 5), sequential.Cusum{}
		for n := 1; ; n++ {
			c.Add(d, rng.NormFloat64(), 0)
			if c.Up > d.H || c.Down > d.H {
				total += n
				break
			}
		}
	}
	mean := float64(total) / runs
	near(t, mean, 465, .05)
	if bound := math.Exp(5) / 2; mean < bound {
		t.Errorf("mean run length %.1f below the bound %.1f", mean, bound)
	}
}

// No data whatever may cross the threshold in fewer than Blocks blocks.
func TestCusumClip(t *testing.T) {
	d := sequential.Design{D0: 6, D1: 14, S: 6, H: 16, Blocks: 6}
	for _, x := range []float64{1e9, -1e9, math.Inf(1), math.Inf(-1), math.NaN(), 1e300} {
		var c sequential.Cusum
		for n := 1; n < 6; n++ {
			c.Add(d, x, int64(n))
			if c.Up >= d.H || c.Down >= d.H || math.IsNaN(c.Up) || math.IsNaN(c.Down) {
				t.Errorf("x = %g crossed after %d blocks: %+v", x, n, c)
			}
		}
	}
}

// Changing the unit, the sign or the time origin of data and design changes
// nothing else.
func TestCusumInvariance(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	mm := sequential.Design{D0: 6, D1: 14, S: 6, H: 16, Blocks: 6}
	inch := sequential.Design{D0: 6 / 25.4, D1: 14 / 25.4, S: 6 / 25.4, H: 16, Blocks: 6}
	var a, b, m, later sequential.Cusum
	for i := range int64(1000) {
		x := 8 + 9*rng.NormFloat64()
		a.Add(mm, x, i)
		b.Add(inch, x/25.4, i)
		m.Add(mm, -x, i)
		later.Add(mm, x, i+1_000_000)
		if math.Abs(a.Up-b.Up) > 1e-9 || math.Abs(a.Down-b.Down) > 1e-9 {
			t.Fatalf("block %d: mm %+v, inch %+v", i, a, b)
		}
		if a.Up != m.Down || a.Down != m.Up {
			t.Fatalf("block %d: sign symmetry broken: %+v, %+v", i, a, m)
		}
		if a.Up != later.Up || a.UpOnset+1_000_000 != later.UpOnset {
			t.Fatalf("block %d: time shift changed the sums", i)
		}
	}
}

func TestVarianceFindsLoss(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	var v sequential.Variance
	for i := range int64(500) {
		v.Add(math.Pow(rng.NormFloat64(), 2), 1, .3, 4, i)
	}
	if v.Sum > 16 {
		t.Fatalf("healthy noise gave %.1f nats for a loss", v.Sum)
	}
	n := 0
	for ; v.Sum < 16 && n < 500; n++ {
		v.Add(.3*math.Pow(rng.NormFloat64(), 2), 1, .3, 4, 500+int64(n))
	}
	if n >= 120 {
		t.Errorf("loss of 70 %% of the variance not found in %d values", n)
	}
}

func TestThreshold(t *testing.T) {
	// six one-sided tests, 52 560 ten-minute blocks a year, 0.01 alerts a year
	near(t, sequential.Threshold(6, 52560, .01), 17.265, 1e-3)
}

func BenchmarkCusum(b *testing.B) {
	d, c := sequential.Design{D0: 6, D1: 14, S: 6, H: 16, Blocks: 6}, sequential.Cusum{}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		c.Add(d, float64(i%20), int64(i))
	}
}
