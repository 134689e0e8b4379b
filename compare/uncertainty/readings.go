package uncertainty

import (
	"fmt"
	"math"
)

// Sample is a set of quantities read together several times.
type Sample struct {
	N           int
	Mean        []float64
	U           []float64   // standard deviation of each mean
	Correlation [][]float64 // of the means
}

// Readings evaluates repeated simultaneous readings, one slice per quantity
// (JCGM 100:2008, 4.2 and 5.2.3). All slices have the same length of at least
// two.
func Readings(series ...[]float64) (Sample, error) {
	if len(series) == 0 || len(series[0]) < 2 {
		return Sample{}, fmt.Errorf("uncertainty: repeated readings need at least two of each quantity")
	}
	s := Sample{N: len(series[0])}
	for i, x := range series {
		if len(x) != s.N {
			return Sample{}, fmt.Errorf("uncertainty: quantity %d was read %d times, the first %d times", i, len(x), s.N)
		}
		mean, sd := moments(x)
		s.Mean = append(s.Mean, mean)
		s.U = append(s.U, sd/math.Sqrt(float64(s.N)))
	}
	for i := range series {
		row := make([]float64, len(series))
		for j := range series {
			row[j] = s.covariance(series, i, j) / (s.U[i] * s.U[j])
		}
		s.Correlation = append(s.Correlation, row)
	}
	return s, nil
}

// covariance is that of two means, JCGM 100:2008, eq. (17).
func (s *Sample) covariance(series [][]float64, i, j int) float64 {
	sum := 0.0
	for k := range s.N {
		sum += (series[i][k] - s.Mean[i]) * (series[j][k] - s.Mean[j])
	}
	return sum / float64(s.N*(s.N-1))
}

// Covariance returns the covariance of two means.
func (s *Sample) Covariance(i, j int) float64 { return s.Correlation[i][j] * s.U[i] * s.U[j] }

// Joint returns the covariance matrix of several results that depend on the
// means by the rows of sensitivities: V_y = C V_x Cᵀ (JCGM 102:2011, 6.2.1).
func (s *Sample) Joint(sensitivities [][]float64) [][]float64 {
	v := make([][]float64, len(sensitivities))
	for a := range sensitivities {
		v[a] = make([]float64, len(sensitivities))
		for b := range sensitivities {
			for i, ci := range sensitivities[a] {
				for j, cj := range sensitivities[b] {
					v[a][b] += ci * cj * s.Covariance(i, j)
				}
			}
		}
	}
	return v
}

// Line is a straight line y = Intercept + Slope (x − X0) fitted to points.
type Line struct {
	X0                 float64
	Intercept, Slope   float64
	UIntercept, USlope float64
	Correlation        float64 // of intercept and slope
	Residual           float64 // standard deviation of the points about the line
	DoF                int
}

// Fit fits a straight line by least squares (JCGM 100:2008, H.3). At least
// three points with two different x.
func Fit(x, y []float64, x0 float64) (Line, error) {
	n := float64(len(x))
	if len(x) != len(y) || len(x) < 3 {
		return Line{}, fmt.Errorf("uncertainty: a line needs at least three points, x and y of each; there are %d and %d", len(x), len(y))
	}
	var sx, sxx, sy, sxy float64
	for i := range x {
		d := x[i] - x0
		sx, sxx, sy, sxy = sx+d, sxx+d*d, sy+y[i], sxy+d*y[i]
	}
	det := n*sxx - sx*sx
	if !(det > 0) {
		return Line{}, fmt.Errorf("uncertainty: all points have the same x; a line needs two different ones")
	}
	l := Line{X0: x0, DoF: len(x) - 2}
	l.Intercept = (sy*sxx - sxy*sx) / det // eq. (H.13a)
	l.Slope = (n*sxy - sx*sy) / det       // eq. (H.13b)
	for i := range x {
		r := y[i] - l.At(x[i])
		l.Residual += r * r
	}
	l.Residual = math.Sqrt(l.Residual / float64(l.DoF)) // eq. (H.13f)
	l.UIntercept = l.Residual * math.Sqrt(sxx/det)
	l.USlope = l.Residual * math.Sqrt(n/det)
	l.Correlation = -sx / math.Sqrt(n*sxx) // eq. (H.13e)
	return l, nil
}

// At returns the line at x.
func (l *Line) At(x float64) float64 { return l.Intercept + l.Slope*(x-l.X0) }

// UAt returns the standard uncertainty of the line at x, eq. (H.15).
func (l *Line) UAt(x float64) float64 {
	d := x - l.X0
	return math.Sqrt(l.UIntercept*l.UIntercept + d*d*l.USlope*l.USlope + 2*d*l.Correlation*l.UIntercept*l.USlope)
}
