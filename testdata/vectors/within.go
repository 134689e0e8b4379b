package vectors

import (
	"math"
	"testing"
)

// Within fails the test when got is farther than the tolerance from want. NaN
// is never within.
func Within(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.12g, want %.12g within %g", what, got, want, tolerance)
	}
}

// Within is the function of that name that notes the relative error too.
func (r *Report) Within(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	r.Relative(what, got, want)
	Within(t, what, got, want, tolerance)
}
