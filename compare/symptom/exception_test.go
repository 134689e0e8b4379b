package symptom_test

import (
	"testing"

	"bridlewatch/compare/symptom"
)

// A device that sends only changes is known by its readings of commissioning;
// one that begins to repeat later is ill and not of that kind.
func TestException(t *testing.T) {
	fold := func(e *symptom.Exception, from, to int, same uint16) {
		for i := from; i < to; i++ {
			b := symptom.Block{At: int64(1e9 + 60*i)}
			b.Has[symptom.FloatLevel], b.Roughs[symptom.FloatLevel], b.Same[symptom.FloatLevel] = true, 5, same
			e.Add(&b, symptom.FloatLevel)
		}
	}
	const learned = symptom.LearnSeconds / 60
	var steps, steady symptom.Exception
	fold(&steps, 0, learned, 2)
	fold(&steady, 0, learned, 0)
	fold(&steady, learned, 3*learned, 5)
	if !steps.Known() || steady.Known() {
		t.Errorf("sends only changes: %t, want true; %t, want false", steps.Known(), steady.Known())
	}
}

// The dead band is about the smallest change that is sent; one that sends every
// reading has none.
func TestExceptionBand(t *testing.T) {
	for _, same := range []uint16{0, 2} {
		var e symptom.Exception
		for i := range 2000 {
			b := symptom.Block{At: int64(1e9 + 60*i)}
			b.Has[symptom.FloatLevel], b.Roughs[symptom.FloatLevel], b.Same[symptom.FloatLevel] = true, 5, same
			b.Change[symptom.FloatLevel] = 2 + 0.4*float64(i%2) // mm
			e.Add(&b, symptom.FloatLevel)
		}
		want := 2.2
		if same == 0 {
			want = 0
		}
		if got := e.Band(); got < want-0.01 || got > want+0.01 {
			t.Errorf("%d of 5 repeated: band %.2f mm, want %.1f", same, got, want)
		}
	}
}
