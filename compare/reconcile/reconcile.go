// Package reconcile holds the statistics of several measurements of the same
// thing, or of things that must balance.
//
// Consistency compares readings of one quantity: weighted mean, χ², Birge
// ratio, normalised errors and the largest consistent subset (Cox 2002, 2007).
// Balance reconciles flows of a network with linear balances and finds the
// gross error by the measurement test and the generalised likelihood ratio
// (Narasimhan & Jordache 1999).
package reconcile

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Mean is a weighted mean with what it says about its members.
type Mean struct {
	X     float64   // weighted mean
	U     float64   // its standard uncertainty
	Chi2  float64   // Σ (x - X)²/u²
	Birge float64   // √(χ²/(n-1)); above one the uncertainties are too small
	Z     []float64 // each value against the mean of the others, in standard uncertainties
}

// Consistency returns the inverse-variance mean of values with standard
// uncertainties u (all positive). With two values both z are equal in size:
// disagreement alone never tells which of two is wrong.
func Consistency(x, u []float64) Mean {
	m := weighted(x, u, nil)
	m.Z = make([]float64, len(x))
	if len(x) < 2 {
		return m
	}
	m.Birge = math.Sqrt(m.Chi2 / float64(len(x)-1))
	for i := range x {
		others := weighted(x, u, func(j int) bool { return j != i })
		m.Z[i] = (x[i] - others.X) / math.Hypot(u[i], others.U)
	}
	return m
}

func weighted(x, u []float64, use func(int) bool) (m Mean) {
	w := 0.0
	for i := range x {
		if use == nil || use(i) {
			w += 1 / (u[i] * u[i])
			m.X += x[i] / (u[i] * u[i])
		}
	}
	m.X, m.U = m.X/w, 1/math.Sqrt(w)
	for i := range x {
		if use == nil || use(i) {
			m.Chi2 += math.Pow((x[i]-m.X)/u[i], 2)
		}
	}
	return m
}

// NormalisedError is E_n = (a - b)/√(Ua² + Ub²) with expanded uncertainties
// (k = 2); |E_n| <= 1 is satisfactory (ISO/IEC 17043, ISO 13528).
func NormalisedError(a, ua, b, ub float64) float64 { return (a - b) / math.Hypot(2*ua, 2*ub) }

// MandelPaule returns the mean of values with an extra variance between them
// that makes χ² equal to its expectation n-1 (Mandel & Paule 1970).
func MandelPaule(x, u []float64) (mean, between, uMean float64) {
	widened := func(v float64) Mean {
		wide := make([]float64, len(u))
		for i := range u {
			wide[i] = math.Sqrt(u[i]*u[i] + v)
		}
		return weighted(x, wide, nil)
	}
	n := float64(len(x) - 1)
	lo, hi := 0.0, 1.0
	if m := widened(0); m.Chi2 <= n {
		return m.X, 0, m.U
	}
	for widened(hi).Chi2 > n {
		hi *= 2
	}
	for range 200 {
		middle := (lo + hi) / 2
		if widened(middle).Chi2 > n {
			lo = middle
		} else {
			hi = middle
		}
	}
	m := widened(hi)
	return m.X, hi, m.U
}

// DerSimonianLaird returns the mean with the moment estimate of the variance
// between the values (DerSimonian & Laird 1986).
func DerSimonianLaird(x, u []float64) (mean, between, uMean float64) {
	m := weighted(x, u, nil)
	w, w2 := 0.0, 0.0
	for _, v := range u {
		w += 1 / (v * v)
		w2 += 1 / (v * v * v * v)
	}
	between = math.Max(0, (m.Chi2-float64(len(x)-1))/(w-w2/w))
	wide := make([]float64, len(u))
	for i := range u {
		wide[i] = math.Sqrt(u[i]*u[i] + between)
	}
	d := weighted(x, wide, nil)
	return d.X, between, d.U
}

// Largest returns the largest subset of at most 20 values whose χ² does not
// exceed limit(n-1), and of equally large ones the one with the smallest χ²
// (Cox 2007). It serves to flag values, not to replace them.
func Largest(x, u []float64, limit func(degrees int) float64) []int {
	var best []int
	least := math.Inf(1)
	for mask := 1; mask < 1<<len(x); mask++ {
		var members []int
		for i := range x {
			if mask&(1<<i) != 0 {
				members = append(members, i)
			}
		}
		if len(members) < len(best) || len(members) < 2 {
			continue
		}
		m := weighted(x, u, func(i int) bool { return mask&(1<<i) != 0 })
		if m.Chi2 > limit(len(members)-1) {
			continue
		}
		if len(members) > len(best) || m.Chi2 < least {
			best, least = members, m.Chi2
		}
	}
	return best
}

// Balance is a reconciled network.
type Balance struct {
	X     []float64 // reconciled values
	Gamma float64   // global test, χ² with one degree of freedom per balance
	Z     []float64 // measurement test of every value
	T     []float64 // generalised likelihood ratio of a bias of every value
}

// ErrSingular is returned when the balances are not independent.
var ErrSingular = errors.New("balances are not independent; remove the redundant one")

// Reconcile adjusts measurements y with standard uncertainties u as little as
// possible, in the least-squares sense, so that every row of a balances:
// a·x = 0.
func Reconcile(a [][]float64, y, u []float64) (Balance, error) {
	m, n := len(a), len(y)
	for _, row := range a {
		if len(row) != n {
			return Balance{}, fmt.Errorf("balance of %d coefficients for %d values: every row needs one per value", len(row), n)
		}
	}
	v := make([][]float64, m) // a Σ aᵀ
	r := make([]float64, m)   // a y
	for i := range m {
		v[i] = make([]float64, m)
		for j := range m {
			for k := range n {
				v[i][j] += a[i][k] * u[k] * u[k] * a[j][k]
			}
		}
		for k := range n {
			r[i] += a[i][k] * y[k]
		}
	}
	inverse, err := invert(v)
	if err != nil {
		return Balance{}, err
	}
	b := Balance{X: slices.Clone(y), Z: make([]float64, n), T: make([]float64, n)}
	q := times(inverse, r)
	for i := range m {
		b.Gamma += r[i] * q[i]
	}
	for k := range n {
		column := make([]float64, m)
		dot := 0.0
		for i := range m {
			column[i] = a[i][k]
			dot += a[i][k] * q[i]
		}
		spread := 0.0
		for i, x := range times(inverse, column) {
			spread += column[i] * x
		}
		b.X[k] -= u[k] * u[k] * dot
		b.Z[k] = u[k] * u[k] * dot / (u[k] * u[k] * math.Sqrt(spread))
		b.T[k] = dot * dot / spread
	}
	return b, nil
}

func times(m [][]float64, x []float64) []float64 {
	out := make([]float64, len(x))
	for i := range m {
		for j := range x {
			out[i] += m[i][j] * x[j]
		}
	}
	return out
}

func invert(v [][]float64) ([][]float64, error) {
	n := len(v)
	a, inv := make([][]float64, n), make([][]float64, n)
	for i := range n {
		a[i], inv[i] = slices.Clone(v[i]), make([]float64, n)
		inv[i][i] = 1
	}
	for c := range n {
		p := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		if math.Abs(a[p][c]) < 1e-12 {
			return nil, ErrSingular
		}
		a[c], a[p], inv[c], inv[p] = a[p], a[c], inv[p], inv[c]
		for r := range n {
			if r == c {
				continue
			}
			f := a[r][c] / a[c][c]
			for k := range n {
				a[r][k] -= f * a[c][k]
				inv[r][k] -= f * inv[c][k]
			}
		}
	}
	for r := range n {
		for k := range n {
			inv[r][k] /= a[r][r]
		}
	}
	return inv, nil
}

// Sidak returns the critical |z| for n tests at an overall error probability
// alpha: Φ⁻¹(1 - (1-(1-alpha)^(1/n))/2).
func Sidak(n int, alpha float64) float64 {
	p := (1 - math.Pow(1-alpha, 1/float64(n))) / 2
	return math.Sqrt2 * math.Erfcinv(2*p)
}
