package symptom

import "testing"

// A run of equal readings stands only when it outlasts a gateway's memory and
// every run of health; a reading that differs, or one at a tap, ends it.
func TestRepeatCountsEqualReadings(t *testing.T) {
	var r Repeat
	at := int64(600_000)
	minutes := func(n int, same, of uint16, bound, healthy bool) {
		for range n {
			at += 60
			b := Block{At: at}
			b.Roughs[TransmitterLevel], b.Same[TransmitterLevel], b.Bound[TransmitterLevel] = of, same, bound
			levels, seen := [Channels]float64{FloatLevel: 500}, [Channels]int64{FloatLevel: at}
			r.Add(&b, TransmitterLevel, &levels, &seen, healthy)
		}
	}
	minutes(11, 1, 1, false, true)
	if r.Stands(at) {
		t.Error("ten minutes are what a gateway repeats after a restart")
	}
	minutes(1, 0, 1, false, true)
	if r.N != 0 || r.Longest != 11 {
		t.Errorf("after another reading: %+v", r)
	}
	minutes(30, 1, 1, false, true)
	if r.Stands(at) {
		t.Error("thirty readings are less than three times eleven")
	}
	minutes(4, 1, 1, false, true)
	if !r.Stands(at) {
		t.Errorf("does not stand: %+v", r)
	}
	minutes(60, 0, 0, false, true)
	if r.N != 34 {
		t.Errorf("minutes without a reading count: %+v", r)
	}
	if mm, far := r.Left(FloatLevel, 504); far || mm != 4 {
		t.Errorf("4 mm: %v %v", mm, far)
	}
	if mm, far := r.Left(FloatLevel, 494); !far || mm != -6 {
		t.Errorf("-6 mm: %v %v", mm, far)
	}
	if _, far := r.Left(VesselLevel, 900); far {
		t.Error("a level not known when the run began has gone nowhere")
	}
	minutes(1, 1, 1, true, false)
	if r.N != 0 || r.Longest != 11 {
		t.Errorf("a reading at a tap, while something is suspected: %+v", r)
	}
}
