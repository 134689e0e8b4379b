// Package trendline estimates a slow trend robustly and says whether it is one.
//
// The slope is the median of all pairwise slopes (Theil 1950, Sen 1968), its
// significance the Mann–Kendall statistic. Daily values of a healthy gauge are
// correlated, which makes the plain test reject far too often; the variance is
// therefore inflated by the long-run factor (1+φ)/(1-φ) of a first-order
// autoregression, with φ estimated from the detrended values and corrected for
// its bias.
package trendline

import (
	"math"
	"slices"
)

// Trend is a fitted line with its significance.
type Trend struct {
	Slope     float64 // per unit of x, median of pairwise slopes
	Intercept float64 // median of y - Slope·x
	Low, High float64 // confidence interval of the slope
	S         float64 // Mann–Kendall statistic
	Var       float64 // its variance without correlation, ties counted
	Z         float64 // plain score, continuity corrected
	Phi       float64 // lag-one correlation of the detrended values, bias corrected, 0..0.95
	Corrected float64 // score with the variance of correlated values
}

// MaxPoints bounds the work: 4 005 pairs.
const MaxPoints = 90

// Fit estimates the trend of y over ascending x, at most the newest MaxPoints
// values, with a confidence interval of the slope at score z (1.96 for 95 %).
// Fewer than four values give the zero Trend.
func Fit(x, y []float64, z float64) Trend {
	if n := len(x); n > MaxPoints {
		x, y = x[n-MaxPoints:], y[n-MaxPoints:]
	}
	n := len(x)
	if n < 4 {
		return Trend{}
	}
	t := Trend{S: Kendall(y), Var: Variance(y)}
	t.Z = score(t.S, t.Var)
	slopes := make([]float64, 0, n*(n-1)/2)
	for i := range n {
		for j := i + 1; j < n; j++ {
			if x[j] != x[i] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	slices.Sort(slopes)
	t.Slope = median(slopes)
	rest := make([]float64, n)
	for i := range rest {
		rest[i] = y[i] - t.Slope*x[i]
	}
	t.Phi = lagOne(rest)
	slices.Sort(rest)
	t.Intercept = median(rest)
	factor := math.Sqrt((1 + t.Phi) / (1 - t.Phi))
	t.Corrected = t.Z / factor
	half := z * math.Sqrt(t.Var) * factor / 2
	middle := float64(len(slopes)) / 2
	t.Low, t.High = at(slopes, middle-half), at(slopes, middle+half)
	return t
}

// At is the fitted line at x.
func (t *Trend) At(x float64) float64 { return t.Intercept + t.Slope*x }

// Scatter is the median distance of values from the line.
func (t *Trend) Scatter(x, y []float64) float64 {
	off := make([]float64, len(x))
	for i := range off {
		off[i] = math.Abs(y[i] - t.At(x[i]))
	}
	slices.Sort(off)
	return median(off)
}

// Kendall returns the Mann–Kendall statistic Σ sign(y_j - y_i), i < j.
func Kendall(y []float64) (s float64) {
	for i := range y {
		for j := i + 1; j < len(y); j++ {
			switch {
			case y[j] > y[i]:
				s++
			case y[j] < y[i]:
				s--
			}
		}
	}
	return s
}

// Variance returns the variance of the Mann–Kendall statistic of uncorrelated
// values, corrected for ties.
func Variance(y []float64) float64 {
	sorted := slices.Clone(y)
	slices.Sort(sorted)
	n := float64(len(y))
	v := n * (n - 1) * (2*n + 5)
	for i := 0; i < len(sorted); {
		j := i
		for j < len(sorted) && sorted[j] == sorted[i] {
			j++
		}
		t := float64(j - i)
		v -= t * (t - 1) * (2*t + 5)
		i = j
	}
	return v / 18
}

func score(s, variance float64) float64 {
	if variance <= 0 || s == 0 {
		return 0
	}
	return (s - math.Copysign(1, s)) / math.Sqrt(variance)
}

// lagOne is the lag-one correlation, corrected for the bias of short series
// (n·r + 2)/(n - 4) and clamped to 0..0.95.
func lagOne(y []float64) float64 {
	mean, num, den := 0.0, 0.0, 0.0
	n := float64(len(y))
	for _, v := range y {
		mean += v / n
	}
	for i, v := range y {
		den += (v - mean) * (v - mean)
		if i > 0 {
			num += (v - mean) * (y[i-1] - mean)
		}
	}
	if den == 0 || n <= 4 {
		return 0
	}
	return math.Max(0, math.Min(0.95, (n*num/den+2)/(n-4)))
}

func median(sorted []float64) float64 {
	n := len(sorted)
	if n == 0 {
		return 0
	}
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}

func at(sorted []float64, position float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[int(math.Max(0, math.Min(float64(len(sorted)-1), math.Round(position))))]
}

// Until returns how long, in units of x after now, until the trend reaches
// the limit in its direction, with the earliest and the latest by the
// interval; ok is false where it does not.
func (t *Trend) Until(now, limit float64) (when, earliest, latest float64, ok bool) {
	level := t.At(now)
	reach := func(slope float64) float64 {
		if slope*t.Slope <= 0 {
			return math.Inf(1)
		}
		return math.Max(0, (math.Copysign(limit, t.Slope)-level)/slope)
	}
	if t.Slope == 0 {
		return 0, 0, 0, false
	}
	fast, slow := t.High, t.Low
	if t.Slope < 0 {
		fast, slow = t.Low, t.High
	}
	return reach(t.Slope), reach(fast), reach(slow), true
}
