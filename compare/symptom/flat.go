package symptom

import (
	"math"
	"slices"
)

// Flat finds a channel that stands still while another moves a little, less
// than whole moves: over a day of ten-minute means, one keeps within its
// resolution while the middle half of the other's values spreads over
// millimetres. Bursts such as foam do not spread the middle half.
type Flat struct {
	Range  float64 // of the channel, mm
	Spread float64 // distance of the quartiles of the other, mm
	Marks  int
	From   int64
}

// FlatIn compares a channel with another over marks. ok is false where too
// few marks hold both.
func FlatIn(marks []Mark, channel, other Channel, scratch []float64) (f Flat, ok bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	scratch = scratch[:0]
	for i := range marks {
		x, o := float64(marks[i].Level[channel]), float64(marks[i].Level[other])
		if math.IsNaN(x) || math.IsNaN(o) {
			continue
		}
		lo, hi = math.Min(lo, x), math.Max(hi, x)
		scratch = append(scratch, o)
		if f.From == 0 {
			f.From = marks[i].At
		}
	}
	f.Marks = len(scratch)
	if f.Marks < 36 {
		return f, false
	}
	slices.Sort(scratch)
	f.Range, f.Spread = hi-lo, scratch[3*len(scratch)/4]-scratch[len(scratch)/4]
	return f, true
}
