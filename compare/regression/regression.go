// Package regression fits straight lines and small linear models.
//
//   - Fit solves least squares by Householder QR on scaled columns: normal
//     equations lose half the digits and fail on the Pontius data set.
//   - Deming and York fit a line when both coordinates are uncertain.
//   - Moments fits a model of a few regressors to an endless stream with
//     exponential forgetting, and says how much each regressor was excited.
package regression

import (
	"errors"
	"fmt"
	"math"
)

// Model is a fitted linear model.
type Model struct {
	B     []float64 // coefficients
	SE    []float64 // their standard errors
	Sigma float64   // residual standard deviation
	R2    float64   // share of the variance explained
}

// ErrRank is returned when the regressors are not independent.
var ErrRank = errors.New("regressors are not independent; leave one out or take more varied data")

// Fit returns the least-squares fit of y on the rows of x. Every row holds one
// value per regressor, a constant included where one is wanted; there must be
// more rows than regressors.
func Fit(x [][]float64, y []float64) (Model, error) {
	n, k := len(x), 0
	if n > 0 {
		k = len(x[0])
	}
	if n <= k || n != len(y) || k == 0 {
		return Model{}, fmt.Errorf("least squares of %d values on %d rows of %d regressors: need more rows than regressors and as many values", len(y), n, k)
	}
	a, b, scale := scaled(x, y, k)
	for j := range k {
		if !reflect(a, b, j) {
			return Model{}, ErrRank
		}
	}
	m := Model{B: make([]float64, k), SE: make([]float64, k)}
	for j := k - 1; j >= 0; j-- {
		m.B[j] = b[j]
		for l := j + 1; l < k; l++ {
			m.B[j] -= a[j][l] * m.B[l]
		}
		m.B[j] /= a[j][j]
	}
	m.errors(a, b, scale, y)
	return m, nil
}

// scaled copies the data with every column divided by its norm.
func scaled(x [][]float64, y []float64, k int) (a [][]float64, b, scale []float64) {
	scale = make([]float64, k)
	for j := range k {
		for i := range x {
			scale[j] = math.Hypot(scale[j], x[i][j])
		}
		if scale[j] == 0 {
			scale[j] = 1
		}
	}
	a = make([][]float64, len(x))
	for i := range x {
		a[i] = make([]float64, k)
		for j := range k {
			a[i][j] = x[i][j] / scale[j]
		}
	}
	return a, append([]float64(nil), y...), scale
}

// reflect applies the Householder reflection that clears column j below the
// diagonal, and reports false when the column has nothing new.
func reflect(a [][]float64, b []float64, j int) bool {
	norm := 0.0
	for i := j; i < len(a); i++ {
		norm = math.Hypot(norm, a[i][j])
	}
	if norm < 1e-13 {
		return false
	}
	alpha := -math.Copysign(norm, a[j][j])
	v := make([]float64, len(a))
	v[j] = a[j][j] - alpha
	for i := j + 1; i < len(a); i++ {
		v[i] = a[i][j]
	}
	vv := 0.0
	for i := j; i < len(a); i++ {
		vv += v[i] * v[i]
	}
	apply := func(get func(i int) float64, set func(i int, x float64)) {
		dot := 0.0
		for i := j; i < len(a); i++ {
			dot += v[i] * get(i)
		}
		for i := j; i < len(a); i++ {
			set(i, get(i)-2*dot/vv*v[i])
		}
	}
	for c := j; c < len(a[0]); c++ {
		apply(func(i int) float64 { return a[i][c] }, func(i int, x float64) { a[i][c] = x })
	}
	apply(func(i int) float64 { return b[i] }, func(i int, x float64) { b[i] = x })
	return true
}

// errors finishes a model: residuals, standard errors, and coefficients in the
// units of the data.
func (m *Model) errors(a [][]float64, b, scale, y []float64) {
	n, k := len(a), len(m.B)
	rss, mean, tss := 0.0, 0.0, 0.0
	for _, r := range b[k:] {
		rss += r * r
	}
	for _, v := range y {
		mean += v / float64(n)
	}
	for _, v := range y {
		tss += (v - mean) * (v - mean)
	}
	m.Sigma, m.R2 = math.Sqrt(rss/float64(n-k)), 1-rss/tss
	for j := range k { // row j of R⁻¹
		inverse := make([]float64, k)
		inverse[j] = 1 / a[j][j]
		for c := j + 1; c < k; c++ {
			for l := j; l < c; l++ {
				inverse[c] -= inverse[l] * a[l][c]
			}
			inverse[c] /= a[c][c]
		}
		sum := 0.0
		for _, v := range inverse {
			sum += v * v
		}
		m.SE[j] = m.Sigma * math.Sqrt(sum) / scale[j]
		m.B[j] /= scale[j]
	}
}

// Line is y = A + B·x with standard errors.
type Line struct {
	A, B   float64
	UA, UB float64
	S      float64 // sum of squared weighted residuals
}

// Deming fits a line when both coordinates have errors whose variances have
// the constant ratio delta = var(y)/var(x); delta 1 is the orthogonal line.
func Deming(x, y []float64, delta float64) Line {
	mx, my, sxx, syy, sxy := moments(x, y)
	d := syy - delta*sxx
	b := (d + math.Sqrt(d*d+4*delta*sxy*sxy)) / (2 * sxy)
	return Line{A: my - b*mx, B: b}
}

func moments(x, y []float64) (mx, my, sxx, syy, sxy float64) {
	n := float64(len(x))
	for i := range x {
		mx += x[i] / n
		my += y[i] / n
	}
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		syy += (y[i] - my) * (y[i] - my)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	return mx, my, sxx, syy, sxy
}

// York fits a line when every coordinate has its own weight 1/u² and every
// point a correlation of its two errors (York, Evensen, Martínez & De Basabe
// Delgado 2004). r may be nil for none. It needs two different points at
// least.
func York(x, y, wx, wy, r []float64) Line {
	_, _, sxx, _, sxy := moments(x, y)
	b := sxy / sxx
	n := len(x)
	w, beta := make([]float64, n), make([]float64, n)
	var mx, my float64
	for range 200 {
		sum := 0.0
		mx, my = 0, 0
		for i := range x {
			alpha, ri := math.Sqrt(wx[i]*wy[i]), correlation(r, i)
			w[i] = wx[i] * wy[i] / (wx[i] + b*b*wy[i] - 2*b*ri*alpha)
			sum += w[i]
			mx += w[i] * x[i]
			my += w[i] * y[i]
		}
		mx, my = mx/sum, my/sum
		num, den := 0.0, 0.0
		for i := range x {
			u, v := x[i]-mx, y[i]-my
			alpha, ri := math.Sqrt(wx[i]*wy[i]), correlation(r, i)
			beta[i] = w[i] * (u/wy[i] + b*v/wx[i] - (b*u+v)*ri/alpha)
			num += w[i] * beta[i] * v
			den += w[i] * beta[i] * u
		}
		next := num / den
		done := math.Abs(next-b) <= 1e-15*math.Abs(b)
		b = next
		if done {
			break
		}
	}
	return yorkLine(x, y, w, beta, mx, my, b)
}

func correlation(r []float64, i int) float64 {
	if r == nil {
		return 0
	}
	return r[i]
}

func yorkLine(x, y, w, beta []float64, mx, my, b float64) Line {
	l := Line{A: my - b*mx, B: b}
	sum, mean := 0.0, 0.0
	for i := range x {
		sum += w[i]
		mean += w[i] * (mx + beta[i])
		l.S += w[i] * math.Pow(y[i]-b*x[i]-l.A, 2)
	}
	mean /= sum
	spread := 0.0
	for i := range x {
		spread += w[i] * math.Pow(mx+beta[i]-mean, 2)
	}
	l.UB = math.Sqrt(1 / spread)
	l.UA = math.Sqrt(1/sum + mean*mean*l.UB*l.UB)
	return l
}
