package shape_test

import (
	"testing"

	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// Leaving out the one instrument that is wrong the others agree; of two that are
// wrong none can be left out alone.
func TestOthersAgreeBesideOneFaultOnly(tt *testing.T) {
	sigma := [3]float64{2, 2, 2}
	one := marks(sigma, func(i int) (float64, float64, float64) { return 0, after(i, 40), 0 }).Solve()
	if one.Beside[t] > 1.5 || one.Beside[f] < 5 || one.Beside[v] < 5 {
		tt.Errorf("transmitter shifted: %.1f beside it, %.1f beside float, %.1f beside vessel", one.Beside[t], one.Beside[f], one.Beside[v])
	}
	if left := one.Fits[t][shape.Constant].Left; left > 1.5 {
		tt.Errorf("a constant shift leaves %.1f", left)
	}
	two := marks(sigma, func(i int) (float64, float64, float64) { return after(i, 20), after(i, 40), 0 }).Solve()
	for _, c := range []symptom.Channel{f, t, v} {
		if two.Beside[c] < 5 {
			tt.Errorf("two shifted: only %.1f beside channel %d", two.Beside[c], c)
		}
	}
	if pair := marks(sigma, nil); true {
		pair.Channels = pair.Channels[:2]
		if s := pair.Solve(); s.Beside[f] != 0 {
			tt.Error("of two levels nothing is left to be apart")
		}
	}
}

// A density that is off disturbs two of three levels; once it is taken out of
// them what is left is the shift of the third alone.
func TestShiftBesideADensity(tt *testing.T) {
	const shift = 40.0
	off := [symptom.Channels]float64{8, -12, 0, 0} // mm a standard uncertainty
	p := marks([3]float64{1, 1, 1}, func(i int) (float64, float64, float64) {
		return after(i, 3*off[f]), after(i, 3*off[t]+shift), 0
	})
	for i := range p.Marks {
		for c := range off {
			p.Marks[i].Density[c] = float32(off[c])
		}
	}
	others := *p
	others.Channels = []symptom.Channel{f, v}
	by := others.SolveFor(f, shape.Density)
	fit := by.Fits[f][shape.Density]
	if fit.Size < 2.8 || fit.Size > 3.2 {
		tt.Fatalf("the density is %.2f off, want 3", fit.Size)
	}
	left := p.AtDensity(&fit)
	s := left.SolveFor(t)
	if c := s.Fits[t][shape.Constant]; c.Size < shift-4 || c.Size > shift+4 || c.Left > 1.5 {
		tt.Errorf("what is left: %+v, want a shift of %v", c, shift)
	}
	if s.Took(f) {
		tt.Error("only the transmitter was asked for")
	}
	if whole := p.Solve(); whole.Beside[t] < 2.5 {
		tt.Errorf("before that the others agree beside the transmitter: %.1f", whole.Beside[t])
	}
}
