package shape_test

import (
	"math"
	"testing"

	"bridlewatch/compare/symptom"
)

func BenchmarkSolve(b *testing.B) {
	p := problem(288, func(t float64) [symptom.Channels]float64 {
		l := 500 + 100*math.Sin(t/9000)
		return [symptom.Channels]float64{l, l + 20, math.NaN(), l}
	})
	b.ReportAllocs()
	for b.Loop() {
		p.Solve()
	}
}
