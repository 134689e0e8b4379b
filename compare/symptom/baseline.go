package symptom

import "math"

// Commissioning constants.
const (
	LearnSeconds  = 14 * 86400 // a baseline is learned over so long
	learnLeast    = 400        // ten-minute blocks it needs
	learnSpread   = 0.12       // half-spans, standard deviation of the level that makes a slope identifiable
	learnOutlier  = 30.0       // mm from the mean so far that is not learned
	SlopeLargest  = 4.0        // mm per half-span any healthy pair may have
	sigmaLargest  = 40.0       // mm
	scatterLeast  = 100        // blocks that tell how a gap scatters before it is known
	learnWarmUp   = 30         // blocks before outliers are judged
	baselineFloor = 1.0        // mm, least standard deviation of a block
)

// Varying is what each input that changes from week to week gives a gap: mm
// per standard uncertainty of it, signed.
type Varying [6]float64

// Baseline is what the gap of a pair is when all is well: an offset and a
// slope over the level, learned during commissioning. It is adopted only
// within what the data sheet allows, so that a fault present from the start
// stays visible. The zero value is ready.
type Baseline struct {
	Began  int64 // Unix seconds
	N      float64
	X, XX  float64 // sums of the gap
	L, LL  float64 // sums of the level in half-spans from the middle
	XL     float64
	Weight Varying // sums of what the varying inputs could give the gap
	Known  bool
	Beyond bool    // learned but beyond what the data sheet allows: not adopted
	Offset float64 // mm at mid level
	Slope  float64 // mm per half-span
	Sigma  float64 // mm, standard deviation of a ten-minute mean about the baseline
	At     int64   // when it was adopted
}

// Add folds one ten-minute gap at a level, half-spans from the middle, while
// the gauge is believed healthy. allowed is the largest offset the data sheet
// lets pass, mm. It reports whether the baseline was adopted now.
func (b *Baseline) Add(at int64, gap, level, allowed float64, weight *Varying) bool {
	if b.Known || b.Beyond {
		return false
	}
	if b.Began == 0 {
		b.Began = at
	}
	if b.N >= learnWarmUp && math.Abs(gap-b.X/b.N) > learnOutlier {
		return false
	}
	b.N++
	b.X += gap
	b.XX += gap * gap
	b.L += level
	b.LL += level * level
	b.XL += gap * level
	for i, w := range weight {
		b.Weight[i] += w
	}
	if at-b.Began < LearnSeconds || b.N < learnLeast {
		return false
	}
	return b.adopt(at, allowed)
}

// Parts is what the varying inputs could give the gap while it was learned.
func (b *Baseline) Parts() (mean Varying) {
	for i, w := range b.Weight {
		mean[i] = w / math.Max(b.N, 1)
	}
	return mean
}

// steepest is the largest slope that is learned, mm per half-span: that of
// scale errors, or that of a density at the end of its range.
func (b *Baseline) steepest() float64 {
	sum := 0.0
	for _, d := range b.Parts() {
		sum += 3 * d * d
	}
	return math.Max(SlopeLargest, math.Sqrt(sum))
}

func (b *Baseline) adopt(at int64, allowed float64) bool {
	mx, ml := b.X/b.N, b.L/b.N
	sxx, sll, sxl := b.XX/b.N-mx*mx, b.LL/b.N-ml*ml, b.XL/b.N-mx*ml
	if sll >= learnSpread*learnSpread {
		steepest := b.steepest()
		b.Slope = math.Max(-steepest, math.Min(steepest, sxl/sll))
	}
	b.Offset = mx - b.Slope*ml
	rest := sxx - 2*b.Slope*sxl + b.Slope*b.Slope*sll
	b.Sigma = math.Min(sigmaLargest, math.Max(baselineFloor, math.Sqrt(math.Max(0, rest))))
	if math.Abs(mx) > allowed {
		b.Beyond = true
		return false
	}
	b.Known, b.At = true, at
	return true
}

// Scatter is the standard deviation of the ten-minute means about what is
// normal, mm, by what was learned so far; 0 with too little.
func (b *Baseline) Scatter() float64 {
	if b.Known || b.N < scatterLeast {
		return b.Sigma
	}
	m := b.X / b.N
	return math.Sqrt(math.Max(0, b.XX/b.N-m*m))
}

// Normal returns the gap that is normal at a level, half-spans from the
// middle; 0 while no baseline is known.
func (b *Baseline) Normal(level float64) float64 {
	if !b.Known {
		return 0
	}
	return b.Offset + b.Slope*level
}

// Expected is what the gap is believed to be at a level: normal, or the mean of
// what was learned so far; ok is false where that is too little.
func (b *Baseline) Expected(level float64) (gap float64, ok bool) {
	if b.Known || b.N < scatterLeast {
		return b.Normal(level), b.Known
	}
	return b.X / b.N, true
}
