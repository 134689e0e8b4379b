package regression

import "math"

// Terms is the number of regressors of Moments, the constant included.
const Terms = 5

// Moments holds the decayed sums of a linear model of up to five regressors
// in a stream: y = b·u. The zero value is ready. Regressors should be centred
// and of the size of one, then five of them are well conditioned.
type Moments struct {
	A  [Terms][Terms]float64 // Σ w u uᵀ, upper triangle used
	C  [Terms]float64        // Σ w u y
	YY float64               // Σ w y²
	N  float64               // Σ w
}

// Add forgets by the factor keep (0..1) and adds one observation of weight w.
func (m *Moments) Add(keep, w float64, u *[Terms]float64, y float64) {
	for i := range Terms {
		for j := i; j < Terms; j++ {
			m.A[i][j] = keep*m.A[i][j] + w*u[i]*u[j]
		}
		m.C[i] = keep*m.C[i] + w*u[i]*y
	}
	m.YY = keep*m.YY + w*y*y
	m.N = keep*m.N + w
}

// Solution is what Moments amount to.
type Solution struct {
	B       [Terms]float64 // coefficients; 0 where not excited
	I       [Terms]float64 // information about each that the others do not carry: Schur complement
	Sigma   float64        // residual standard deviation
	Excited [Terms]bool
}

// Solve fits the terms whose information reaches least; the others are held
// at zero. Term 0 is taken as the constant and needs one observation.
func (m *Moments) Solve(least *[Terms]float64) (s Solution) {
	use := [Terms]bool{}
	for j := range Terms {
		use[j] = m.A[j][j] > 0
	}
	for {
		s = Solution{Excited: use}
		worst, short := -1, 1.0
		for j := range Terms {
			if use[j] {
				s.I[j] = m.information(j, &use)
				if q := s.I[j] / math.Max(least[j], 1e-12); q < short {
					worst, short = j, q
				}
			}
		}
		if worst < 0 {
			break
		}
		use[worst] = false
	}
	m.coefficients(&s, &use)
	return s
}

// information is A_jj - A_jR A_RR⁻¹ A_Rj over the other terms in use.
func (m *Moments) information(j int, use *[Terms]bool) float64 {
	others := *use
	others[j] = false
	var rhs [Terms]float64
	for i := range Terms {
		rhs[i] = m.at(i, j)
	}
	x := m.solve(&others, &rhs)
	info := m.A[j][j]
	for i := range Terms {
		if others[i] {
			info -= x[i] * m.at(i, j)
		}
	}
	return math.Max(0, info)
}

func (m *Moments) at(i, j int) float64 {
	if i > j {
		i, j = j, i
	}
	return m.A[i][j]
}

func (m *Moments) coefficients(s *Solution, use *[Terms]bool) {
	s.B = m.solve(use, &m.C)
	rest := m.YY
	for j := range Terms {
		if use[j] {
			rest -= s.B[j] * m.C[j]
		}
	}
	if m.N > 0 {
		s.Sigma = math.Sqrt(math.Max(0, rest/m.N))
	}
}

// solve returns A⁻¹ rhs over the terms in use by Cholesky; a term that
// depends on the ones before it gets zero.
func (m *Moments) solve(use *[Terms]bool, rhs *[Terms]float64) (x [Terms]float64) {
	var l [Terms][Terms]float64
	var z [Terms]float64
	var skip [Terms]bool
	for i := range Terms {
		if !use[i] {
			skip[i] = true
			continue
		}
		for j := 0; j <= i; j++ {
			if skip[j] {
				continue
			}
			sum := m.at(i, j)
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = sum / l[j][j]
				continue
			}
			if sum <= 1e-10*m.A[i][i] {
				skip[i], l[i] = true, [Terms]float64{}
				break
			}
			l[i][i] = math.Sqrt(sum)
		}
		if skip[i] {
			continue
		}
		z[i] = rhs[i]
		for k := range i {
			z[i] -= l[i][k] * z[k]
		}
		z[i] /= l[i][i]
	}
	for i := Terms - 1; i >= 0; i-- {
		if skip[i] {
			continue
		}
		x[i] = z[i]
		for k := i + 1; k < Terms; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x
}
