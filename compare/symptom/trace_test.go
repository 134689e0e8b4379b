package symptom_test

import (
	"testing"

	"bridlewatch/compare/symptom"
)

// The last mark is the newest by time, also once the ring has begun anew.
func TestLastMark(t *testing.T) {
	var trace symptom.Trace
	trace.Init(600, 4)
	if _, ok := trace.Last(); ok {
		t.Fatal("a mark before the first")
	}
	var levels, density [symptom.Channels]float64
	var has [symptom.Channels]bool
	has[symptom.FloatLevel] = true
	for i := range 20 {
		at := int64(1e9) + 600*int64(i)
		density[symptom.FloatLevel] = float64(i)
		trace.Add(at, &levels, &density, &has, 1, 0)
		if m, ok := trace.Last(); i > 0 && (!ok || m.At != at-600 || m.Density[symptom.FloatLevel] != float32(i-1)) {
			t.Fatalf("after %d marks the last is of %d with %g, want %d with %d", i, m.At, m.Density[symptom.FloatLevel], at-600, i-1)
		}
	}
}
