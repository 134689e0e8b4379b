package page

import (
	"testing"
	"time"

	"bridlewatch/dashboards/trend"
)

// chartOf makes a chart of float, transmitter, gap and budget; a missing value
// is an interval without samples.
func chartOf(first time.Time, step time.Duration, float, transmitter []float64) *trend.Chart {
	c := &trend.Chart{From: first, Step: step, Columns: make([]trend.Column, 4)}
	for j := range float {
		c.Time = append(c.Time, first.Add(time.Duration(j)*step+step/2))
		for i, v := range []float64{float[j], transmitter[j], float[j] - transmitter[j], 0.01} {
			p := &v
			if float[j] < 0 || transmitter[j] < 0 {
				p = nil
			}
			c.Columns[i].Min, c.Columns[i].Max, c.Columns[i].Mean = append(c.Columns[i].Min, p), append(c.Columns[i].Max, p), append(c.Columns[i].Mean, p)
		}
	}
	return c
}

// A month counts what both passed while they agreed: not a gap in the history,
// not a float that stands, not a pass with a gap beyond what is allowed.
func TestPassesByMonth(t *testing.T) {
	first := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	step := 10 * 24 * time.Hour
	for name, c := range map[string]struct {
		float, transmitter []float64
		want               []int
	}{
		"both pass":                 {[]float64{0.40, 0.60, 0.61, 0.40, 0.41}, []float64{0.401, 0.601, 0.611, 0.401, 0.411}, []int{1, 1}},
		"the float stands":          {[]float64{0.40, 0.40, 0.40, 0.40}, []float64{0.40, 0.60, 0.40, 0.60}, []int{0, 0}},
		"they disagree":             {[]float64{0.40, 0.60, 0.40, 0.60}, []float64{0.45, 0.66, 0.43, 0.64}, []int{0, 0}},
		"a gap in the history":      {[]float64{0.40, -1, 0.60, 0.61}, []float64{0.40, -1, 0.60, 0.61}, []int{0, 0}},
		"forth and back in a spell": {[]float64{0.40, 0.60, 0.40}, []float64{0.40, 0.60, 0.40}, []int{1, 0}},
	} {
		got := passes(chartOf(first, step, c.float, c.transmitter), first, 0.5)
		if got[0] != c.want[0] || got[1] != c.want[1] {
			t.Errorf("%s: %v, want %v", name, got[:2], c.want)
		}
	}
}
