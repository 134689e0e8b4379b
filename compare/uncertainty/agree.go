package uncertainty

import (
	"fmt"
	"math"
)

// NormalisedError returns E_n = |a − b| / √(Ua² + Ub² − 2 cov) of ISO/IEC
// 17043 (and ISO 13528, from memory), with expanded uncertainties of k = 2 and
// the covariance expanded by k² likewise. At most 1 means the two agree.
func NormalisedError(a, ua, b, ub, cov float64) (float64, error) {
	v := ua*ua + ub*ub - 2*cov
	if !(v > 0) {
		return 0, fmt.Errorf("uncertainty: expanded uncertainties %g and %g with covariance %g leave no uncertainty of the difference", ua, ub, cov)
	}
	return math.Abs(a-b) / math.Sqrt(v), nil
}

// Result is a value with its standard uncertainty, independent of the others
// it is compared with.
type Result struct{ Value, U float64 }

// Consensus is the weighted mean of independent results and whether they
// belong together.
type Consensus struct {
	Value, U   float64
	ChiSquare  float64
	Limit      float64   // of ChiSquare at the probability asked for
	Consistent bool      // ChiSquare <= Limit
	Pulls      []float64 // (x − mean)/√(u² − u(mean)²): how far each is off, in its own deviations
}

// Agree forms the weighted mean and tests consistency by chi-square (M. G.
// Cox, "The evaluation of key comparison data", Metrologia 39 (2002) 589,
// procedure A, from memory). It needs at least two results with positive
// uncertainty.
func Agree(results []Result, probability float64) (Consensus, error) {
	if len(results) < 2 {
		return Consensus{}, fmt.Errorf("uncertainty: %d results: consensus needs at least two", len(results))
	}
	var sum, weight float64
	for i, r := range results {
		if !(r.U > 0) {
			return Consensus{}, fmt.Errorf("uncertainty: result %d has standard uncertainty %g; it must be positive", i, r.U)
		}
		sum += r.Value / (r.U * r.U)
		weight += 1 / (r.U * r.U)
	}
	c := Consensus{Value: sum / weight, U: 1 / math.Sqrt(weight), Limit: chiSquareLimit(probability, len(results)-1)}
	for _, r := range results {
		d := r.Value - c.Value
		c.ChiSquare += d * d / (r.U * r.U)
		c.Pulls = append(c.Pulls, d/math.Sqrt(r.U*r.U-c.U*c.U))
	}
	c.Consistent = c.ChiSquare <= c.Limit
	return c, nil
}
