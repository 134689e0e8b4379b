package symptom

import (
	"math"

	"bridlewatch/compare/sequential"
)

// Noise watches the scatter of a pair's gap from one scan to the next: an
// instrument that grows noisy is disturbed. Movement of the level is in both
// readings and cancels. The zero value is ready.
type Noise struct {
	Ten   int64   // index of the running ten minutes
	Sum   float64 // mm², squared differences
	N     float64
	Low   float64 // level range in the running ten minutes, mm
	High  float64
	Began int64

	LearnN, LearnSum float64
	Usual            float64 // mm², mean squared difference when all is well; 0: not learned yet

	Grown sequential.Variance
	Ratio float64 // newest scatter over the usual, smoothed
}

// Noise constants.
const (
	noiseLearnBlocks = 300
	noiseOutlier     = 4.0
	grownRatio       = 3.0 // variance ratio tested for
	grownShare       = 2.2 // smoothed ratio above which it is believed
	noiseClip        = 0.7 // nats per block
	NoiseNats        = 24.0
	noiseSmooth      = 0.02
	noiseLeast       = 0.05 // mm², scatter too small to lose
)

// Add folds the squared differences of one minute. travel is how far the
// level must move within ten minutes for its scatter to be comparable, mm: the
// resolution of a reed chain.
func (n *Noise) Add(at int64, squares, steps, level, travel float64) {
	if i := at / 600; i != n.Ten {
		if n.N >= 5 && n.High-n.Low >= travel {
			n.block(at)
		}
		n.Ten, n.Sum, n.N, n.Low, n.High = i, 0, 0, level, level
	}
	n.Sum += squares
	n.N += steps
	n.Low, n.High = math.Min(n.Low, level), math.Max(n.High, level)
}

func (n *Noise) block(at int64) {
	if n.Began == 0 {
		n.Began = at
	}
	mean := n.Sum / n.N
	if n.Usual == 0 {
		if n.LearnN < learnWarmUp || mean < noiseOutlier*n.LearnSum/n.LearnN {
			n.LearnN++
			n.LearnSum += mean
		}
		if at-n.Began >= LearnSeconds && n.LearnN >= noiseLearnBlocks {
			n.Usual = n.LearnSum / n.LearnN
		}
		return
	}
	if n.Usual < noiseLeast {
		return
	}
	z := mean / n.Usual
	if n.Ratio == 0 {
		n.Ratio = 1
	}
	n.Ratio += noiseSmooth * (math.Min(z, 6) - n.Ratio)
	independent := math.Min(n.N, 10) / 3
	n.Grown.Add(z, independent, grownRatio, noiseClip, at)
	n.Grown.Sum = math.Min(n.Grown.Sum, 2*NoiseNats)
}

// IsGrown reports more scatter than usual.
func (n *Noise) IsGrown() bool { return n.Grown.Sum >= NoiseNats && n.Ratio > grownShare }
