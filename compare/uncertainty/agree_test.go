package uncertainty_test

import (
	"math"
	"testing"

	"bridlewatch/compare/uncertainty"
	"bridlewatch/testdata/vectors"
)

// ISO/IEC 17043 form: 1000 with U 5 and 1009 with U 6 give 9/√61.
func TestNormalisedError(t *testing.T) {
	for _, c := range []struct {
		name              string
		a, ua, b, ub, cov float64
		want              float64
	}{
		{"independent", 1000, 5, 1009, 6, 0, 1.1523},
		{"sharing 20", 1000, 5, 1009, 6, 20, 9 / math.Sqrt(21)},
		{"equal", 7, 1, 7, 1, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			e, err := uncertainty.NormalisedError(c.a, c.ua, c.b, c.ub, c.cov)
			if err != nil {
				t.Fatal(err)
			}
			vectors.Within(t, "E_n", e, c.want, 5e-5)
		})
	}
	if _, err := uncertainty.NormalisedError(1, 1, 2, 1, 1); err == nil {
		t.Error("wholly shared uncertainty: no error")
	}
}

// Weighted mean by hand: 10 (1), 12 (2): mean 10.4, u √0.8, χ² 0.8; with 20
// (1) instead of 12 (2): mean 15, χ² 50. Limit χ²(0.95, 1) = 1.96².
func TestAgree(t *testing.T) {
	c, err := uncertainty.Agree([]uncertainty.Result{{Value: 10, U: 1}, {Value: 12, U: 2}}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	vectors.Within(t, "mean", c.Value, 10.4, 1e-14)
	vectors.Within(t, "u", c.U, math.Sqrt(0.8), 1e-14)
	vectors.Within(t, "χ²", c.ChiSquare, 0.8, 1e-14)
	vectors.Within(t, "limit", c.Limit, 3.841459, 5e-7)
	vectors.Within(t, "pull", c.Pulls[0], -0.4/math.Sqrt(0.2), 1e-12)
	if !c.Consistent {
		t.Error("10 (1) and 12 (2) do not agree")
	}
	c, err = uncertainty.Agree([]uncertainty.Result{{Value: 10, U: 1}, {Value: 20, U: 1}}, 0.95)
	if err != nil || c.Consistent || math.Abs(c.ChiSquare-50) > 1e-12 {
		t.Errorf("10 (1) and 20 (1): %+v, %v", c, err)
	}
	for _, bad := range [][]uncertainty.Result{{{Value: 1, U: 1}}, {{Value: 1, U: 1}, {Value: 2}}} {
		if _, err := uncertainty.Agree(bad, 0.95); err == nil {
			t.Errorf("%v: no error", bad)
		}
	}
}

func TestReadingsAndFitRefusals(t *testing.T) {
	if _, err := uncertainty.Readings([]float64{1}); err == nil {
		t.Error("one reading: no error")
	}
	if _, err := uncertainty.Readings([]float64{1, 2}, []float64{1, 2, 3}); err == nil {
		t.Error("unequal series: no error")
	}
	if _, err := uncertainty.Fit([]float64{1, 1, 1}, []float64{1, 2, 3}, 0); err == nil {
		t.Error("one x: no error")
	}
	if _, err := uncertainty.Fit([]float64{1, 2}, []float64{1, 2}, 0); err == nil {
		t.Error("two points: no error")
	}
}
