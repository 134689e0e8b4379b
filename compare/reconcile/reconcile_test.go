package reconcile_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"bridlewatch/compare/reconcile"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol {
		t.Errorf("%s = %.7g, want %.7g", what, got, want)
	}
}

// network of Narasimhan & Jordache, chapter 1: split, heat exchanger, valve,
// mixer.
var network = [][]float64{{1, -1, -1, 0, 0, 0}, {0, 1, 0, -1, 0, 0}, {0, 0, 1, 0, -1, 0}, {0, 0, 0, 1, 1, -1}}

func ones(n int) []float64 {
	u := make([]float64, n)
	for i := range u {
		u[i] = 1
	}
	return u
}

// Narasimhan & Jordache, Data Reconciliation and Gross Error Detection,
// chapter 1: reconciled flows without a gross error.
func TestReconcileNetwork(t *testing.T) {
	b, err := reconcile.Reconcile(network, []float64{101.91, 64.45, 34.65, 64.20, 36.44, 98.88}, ones(6))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{100.22, 64.50, 35.72, 64.50, 35.72, 100.22} {
		near(t, "flow", b.X[i], want, .006)
	}
}

// The same network with four units of gross error on stream 2 (one value from
// memory): global test, measurement test and likelihood ratio all find it.
func TestGrossErrorNetwork(t *testing.T) {
	b, err := reconcile.Reconcile(network, []float64{101.91, 68.45, 34.65, 64.20, 36.44, 98.88}, ones(6))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{100.89, 65.83, 35.05, 65.83, 35.05, 100.89} {
		near(t, "flow", b.X[i], want, .006)
	}
	near(t, "global test", b.Gamma, 16.6742, 6e-5)
	for i, want := range []float64{1.253, 3.205, -.494, -2.000, 1.698, -2.458} {
		near(t, "z", b.Z[i], want, 6e-4)
	}
	for i, want := range []float64{1.571, 10.270, .244, 4.002, 2.884, 6.040} {
		near(t, "T", b.T[i], want, 6e-4)
	}
	near(t, "Šidák limit", reconcile.Sidak(6, .05), 2.6310, 6e-5)
}

// For a bias of one measurement T equals z² (Narasimhan & Mah 1987).
func TestLikelihoodRatioIsSquaredScore(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	for range 50 {
		y, u := make([]float64, 6), make([]float64, 6)
		for i := range y {
			y[i], u[i] = 50+20*rng.NormFloat64(), .5+rng.Float64()
		}
		b, err := reconcile.Reconcile(network, y, u)
		if err != nil {
			t.Fatal(err)
		}
		for i := range y {
			near(t, "T - z²", b.T[i]-b.Z[i]*b.Z[i], 0, 1e-9*(1+b.T[i]))
		}
	}
}

func TestDependentBalancesAreRefused(t *testing.T) {
	rows := append(slices.Clone(network), network[0])
	if _, err := reconcile.Reconcile(rows, make([]float64, 6), ones(6)); !errors.Is(err, reconcile.ErrSingular) {
		t.Errorf("error %v", err)
	}
	if _, err := reconcile.Reconcile(network, make([]float64, 5), ones(5)); err == nil {
		t.Error("a balance with a coefficient too many was accepted")
	}
}

// Three instruments on one level (own computation, closed form).
func TestThreeLevels(t *testing.T) {
	u := []float64{3, 2, 5}
	m := reconcile.Consistency([]float64{512, 505, 504}, u)
	near(t, "mean", m.X, 506.8393, 6e-5)
	near(t, "u", m.U, 1.5789, 6e-5)
	near(t, "χ²", m.Chi2, 4.1274, 6e-5)
	near(t, "Birge ratio", m.Birge, 1.4366, 6e-5)
	for i, want := range []float64{2.0231, -1.4984, -.5985} {
		near(t, "z", m.Z[i], want, 6e-5)
	}
	m = reconcile.Consistency([]float64{520, 505, 504}, u)
	near(t, "χ² with a fault", m.Chi2, 18.4432, 6e-5)
	for i, want := range []float64{4.2905, -3.3036, -1.0656} {
		near(t, "z with a fault", m.Z[i], want, 6e-5)
	}
	near(t, "E_n", reconcile.NormalisedError(520, 3, 505, 2), 15/math.Sqrt(6*6+4*4), 1e-12)
	near(t, "E_n", reconcile.NormalisedError(520, 3, 505, 2), 2.0801, 6e-5)
}

// Two instruments never tell which of them is wrong.
func TestTwoLevelsAreSymmetric(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 100 {
		m := reconcile.Consistency([]float64{500 + 20*rng.NormFloat64(), 500}, []float64{1 + rng.Float64(), 1 + rng.Float64()})
		near(t, "|z1| - |z2|", math.Abs(m.Z[0])-math.Abs(m.Z[1]), 0, 1e-12)
	}
}

// Dietary fibre in apples (Vangel & Rukhin 1999, as in the R package
// metRology, two results each): estimators by own computation, the largest
// consistent subset after Cox 2007.
func TestApples(t *testing.T) {
	x := []float64{12.46, 13.035, 12.44, 12.87, 13.42, 12.08, 13.18, 14.335, 12.23}
	u := []float64{.028, .233, .325, .071, .339, .325, .099, .064, .212}
	for i := range u {
		u[i] /= math.Sqrt2
	}
	m := reconcile.Consistency(x, u)
	near(t, "weighted mean", m.X, 12.789703, 6e-7)
	near(t, "u", m.U, .016272, 6e-7)
	near(t, "χ²", m.Chi2, 1511.8606, 6e-5)
	near(t, "Birge ratio", m.Birge, 13.74709, 6e-6)
	mean, between, um := reconcile.MandelPaule(x, u)
	near(t, "Mandel–Paule mean", mean, 12.904237, 6e-7)
	near(t, "Mandel–Paule variance", between, .475622, 6e-7)
	near(t, "Mandel–Paule u", um, .235545, 6e-7)
	mean, between, _ = reconcile.DerSimonianLaird(x, u)
	near(t, "DerSimonian–Laird mean", mean, 12.900545, 6e-7)
	near(t, "DerSimonian–Laird variance", between, .776536, 6e-7)
	limits := map[int]float64{1: 3.841, 2: 5.991, 3: 7.815, 4: 9.488, 5: 11.070, 6: 12.592, 7: 14.067, 8: 15.507} // χ² at 95 %, standard tables
	got := reconcile.Largest(x, u, func(d int) float64 { return limits[d] })
	if want := []int{0, 2, 5, 8}; !slices.Equal(got, want) {
		t.Errorf("largest consistent subset %v, want %v", got, want)
	}
}
