package trend

import (
	"math"

	"bridlewatch/dashboards/units"
)

// Values are the buckets of a column in the unit of a reader. NaN marks one
// without a usable sample.
type Values struct{ Min, Max, Mean []float64 }

// Values returns the column in the unit of the set.
func (c *Column) Values(set units.Set) Values {
	factor, _, _ := shown(c.Kind, set)
	in := func(list []*float64) []float64 {
		out := make([]float64, len(list))
		for i, v := range list {
			out[i] = math.NaN()
			if v != nil {
				out[i] = *v / factor
			}
		}
		return out
	}
	return Values{in(c.Min), in(c.Max), in(c.Mean)}
}

// Summary is the mean of the buckets that have samples and the least and
// greatest value in them; ok is false when none has.
func (v Values) Summary() (mean, low, high float64, ok bool) {
	n := 0
	low, high = math.Inf(1), math.Inf(-1)
	for i := range v.Mean {
		if math.IsNaN(v.Mean[i]) {
			continue
		}
		mean, n = mean+v.Mean[i], n+1
		low, high = min(low, v.Min[i]), max(high, v.Max[i])
	}
	if n == 0 {
		return 0, 0, 0, false
	}
	return mean / float64(n), low, high, true
}
