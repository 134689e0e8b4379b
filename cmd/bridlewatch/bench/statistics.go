package bench

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is an estimate with its two-sided 95 % confidence interval.
type Interval struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// garwood is the exact interval of a Poisson rate: n events in an exposure
// (Garwood, Biometrika 28, 1936).
func garwood(n int, exposure float64) Interval {
	if exposure <= 0 {
		return Interval{High: math.MaxFloat64}
	}
	i := Interval{Value: float64(n) / exposure, High: chiSquared(0.975, 2*float64(n+1)) / 2 / exposure}
	if n > 0 {
		i.Low = chiSquared(0.025, 2*float64(n)) / 2 / exposure
	}
	return i
}

func chiSquared(p, k float64) float64 { return distuv.ChiSquared{K: k}.Quantile(p) }

// upperRate is the one-sided 95 % upper limit of a Poisson rate.
func upperRate(n int, exposure float64) float64 {
	return chiSquared(0.95, 2*float64(n+1)) / 2 / exposure
}

// clopperPearson is the exact interval of a probability: k of n (Clopper and
// Pearson, Biometrika 26, 1934).
func clopperPearson(k, n int) Interval {
	if n == 0 {
		return Interval{High: 1}
	}
	i := Interval{Value: float64(k) / float64(n), High: 1}
	if k > 0 {
		i.Low = distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(0.025)
	}
	if k < n {
		i.High = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(0.975)
	}
	return i
}

// quantile returns the p-quantile of values where misses count as longer than
// any value: NaN when it falls among the misses or there is nothing.
func quantile(values []float64, misses int, p float64) float64 {
	n := len(values) + misses
	if n == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(values))
	at := int(math.Ceil(p*float64(n))) - 1
	at = max(at, 0)
	if at >= len(sorted) {
		return math.NaN()
	}
	return sorted[at]
}
