package regression_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/regression"
)

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if math.Abs(got-want) > rel*math.Abs(want) {
		t.Errorf("%s = %.15g, want %.15g within %g", what, got, want, rel)
	}
}

// norris holds the data of NIST StRD, linear regression, Norris: x, y.
var norris = [36][2]float64{{.2, .1}, {337.4, 338.8}, {118.2, 118.1}, {884.6, 888}, {10.1, 9.2}, {226.5, 228.1}, {666.3, 668.5}, {996.3, 998.5},
	{448.6, 449.1}, {777, 778.9}, {558.2, 559.2}, {.4, .3}, {.6, .1}, {775.5, 778.1}, {666.9, 668.8}, {338, 339.3}, {447.5, 448.9}, {11.6, 10.8},
	{556, 557.7}, {228.1, 228.3}, {995.8, 998}, {887.6, 888.8}, {120.2, 119.6}, {.3, .3}, {.3, .6}, {556.8, 557.6}, {339.1, 339.3}, {887.2, 888},
	{999, 998.5}, {779, 778.9}, {11.1, 10.2}, {118.3, 117.6}, {229.2, 228.9}, {669.1, 668.4}, {448.9, 449.2}, {.5, .2}}

// NIST StRD, Norris, certified values.
func TestNorris(t *testing.T) {
	var x [][]float64
	var y []float64
	for _, p := range norris {
		x, y = append(x, []float64{1, p[0]}), append(y, p[1])
	}
	m, err := regression.Fit(x, y)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "B0", m.B[0], -.262323073774029, 1e-11)
	near(t, "B1", m.B[1], 1.00211681802045, 1e-13)
	near(t, "sd B0", m.SE[0], .232818234301152, 1e-11)
	near(t, "sd B1", m.SE[1], .429796848199937e-03, 1e-11)
	near(t, "residual sd", m.Sigma, .884796396144373, 1e-11)
	near(t, "R²", m.R2, .999993745883712, 1e-13)
}

// pontius holds the data of NIST StRD, linear regression, Pontius: deflection
// over load of a load cell, two runs of twenty.
func pontius() (x [][]float64, y []float64) {
	first := []float64{.11019, .21956, .32949, .43899, .54803, .65694, .76562, .87487, .98292, 1.09146, 1.20001, 1.30822, 1.41599, 1.52399, 1.63194,
		1.73947, 1.84646, 1.95392, 2.06128, 2.16844}
	second := []float64{.11052, .22018, .32939, .43886, .54798, .65739, .76596, .87474, .98300, 1.09150, 1.20004, 1.30818, 1.41613, 1.52408, 1.63159,
		1.73965, 1.84696, 1.95445, 2.06177, 2.16829}
	for _, run := range [][]float64{first, second} {
		for i, v := range run {
			load := 150000 * float64(i+1)
			x, y = append(x, []float64{1, load, load * load}), append(y, v)
		}
	}
	return x, y
}

// NIST StRD, Pontius, certified values: a quadratic in loads up to 3e6 that a
// solver of unscaled normal equations gets wrong.
func TestPontius(t *testing.T) {
	m, err := regression.Fit(pontius())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "B0", m.B[0], .673565789473684e-03, 1e-10)
	near(t, "B1", m.B[1], .732059160401003e-06, 1e-12)
	near(t, "B2", m.B[2], -.316081871345029e-14, 1e-10)
	near(t, "sd B0", m.SE[0], .107938612033077e-03, 1e-9)
	near(t, "sd B1", m.SE[1], .157817399981659e-09, 1e-9)
	near(t, "sd B2", m.SE[2], .486652849992036e-16, 1e-9)
	near(t, "residual sd", m.Sigma, .205177424076185e-03, 1e-9)
	near(t, "R²", m.R2, .999999900178537, 1e-12)
}

func TestFitRefuses(t *testing.T) {
	if _, err := regression.Fit([][]float64{{1, 2}, {1, 2}, {1, 2}}, []float64{1, 2, 3}); !errors.Is(err, regression.ErrRank) {
		t.Errorf("dependent regressors: %v", err)
	}
	if _, err := regression.Fit([][]float64{{1, 2}}, []float64{1}); err == nil {
		t.Error("one row for two regressors was accepted")
	}
}

var (
	pearsonX = []float64{0, .9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4}
	pearsonY = []float64{5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5}
	yorkWX   = []float64{1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1}
	yorkWY   = []float64{1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500}
)

// York, Evensen, Martínez & De Basabe Delgado 2004, table II: Pearson's data
// with York's weights.
func TestYork(t *testing.T) {
	l := regression.York(pearsonX, pearsonY, yorkWX, yorkWY, nil)
	near(t, "a", l.A, 5.47991022403, 1e-10)
	near(t, "b", l.B, -.480533407446, 1e-10)
	near(t, "sigma a", l.UA, .294970735, 1e-7)
	near(t, "sigma b", l.UB, .0579850090, 1e-7)
	near(t, "S", l.S, 11.8663531941, 1e-10)
}

// Orthogonal line of Pearson's data and of Norris: the first is printed to
// three digits in the text-book literature (5.79, -.546); more digits are own
// computation.
func TestDeming(t *testing.T) {
	l := regression.Deming(pearsonX, pearsonY, 1)
	near(t, "Pearson a", l.A, 5.784043774530, 1e-11)
	near(t, "Pearson b", l.B, -.545561197521, 1e-11)
	var x, y []float64
	for _, p := range norris {
		x, y = append(x, p[0]), append(y, p[1])
	}
	l = regression.Deming(x, y, 1)
	near(t, "Norris a", l.A, -.263639429701, 1e-10)
	near(t, "Norris b", l.B, 1.002119958349, 1e-12)
}

// With equal weights York is the orthogonal line.
func TestYorkWithEqualWeightsIsDeming(t *testing.T) {
	w := make([]float64, len(pearsonX))
	for i := range w {
		w[i] = 4
	}
	y, d := regression.York(pearsonX, pearsonY, w, w, nil), regression.Deming(pearsonX, pearsonY, 1)
	near(t, "b", y.B, d.B, 1e-12)
	near(t, "a", y.A, d.A, 1e-12)
}

// Moments without forgetting equal least squares; a regressor that was not
// excited is left out, and said to be.
func TestMoments(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	var m regression.Moments
	var x [][]float64
	var y []float64
	for range 500 {
		u := [regression.Terms]float64{1, rng.NormFloat64(), rng.NormFloat64(), 0, float64(1 - 2*rng.IntN(2))}
		v := 3 + 2*u[1] - 7*u[2] + .5*u[4] + .1*rng.NormFloat64()
		m.Add(1, 1, &u, v)
		x, y = append(x, []float64{u[0], u[1], u[2], u[4]}), append(y, v)
	}
	want, err := regression.Fit(x, y)
	if err != nil {
		t.Fatal(err)
	}
	got := m.Solve(&[regression.Terms]float64{1, 1, 1, 1, 1})
	for i, j := range []int{0, 1, 2, 4} {
		near(t, "coefficient", got.B[j], want.B[i], 1e-9)
	}
	if got.Excited[3] || got.B[3] != 0 {
		t.Errorf("term that never moved: %+v", got)
	}
	near(t, "sigma", got.Sigma, want.Sigma, .01)
}

func BenchmarkMoments(b *testing.B) {
	var m regression.Moments
	u := [regression.Terms]float64{1, .3, -.2, .1, 1}
	b.ReportAllocs()
	for b.Loop() {
		m.Add(.999, 1, &u, 2)
	}
}
