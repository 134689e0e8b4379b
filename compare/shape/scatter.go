package shape

import (
	"math"
	"slices"

	"bridlewatch/compare/symptom"
)

const (
	widenLeast = 24     // marks before the onset that show how much a channel scatters
	madToSigma = 1.4826 // of a normal distribution
)

// widen raises the standard deviation of a channel to what it scattered from
// mark to mark before the onset: an instrument that was never better is not
// irregular now. The quietest partner bounds a channel's own share.
func (p *Problem) widen() {
	var steps []float64
	for _, c := range p.Channels {
		least := math.Inf(1)
		for _, o := range p.Channels {
			if o == c {
				continue
			}
			steps = p.steps(c, o, steps[:0])
			if len(steps) >= widenLeast {
				slices.Sort(steps)
				least = math.Min(least, madToSigma*steps[len(steps)/2]/math.Sqrt2)
			}
		}
		if !math.IsInf(least, 1) {
			p.Sigma[c] = math.Max(p.Sigma[c], least)
		}
	}
}

// steps appends how far the gap of two channels went from mark to mark before
// the onset, mm.
func (p *Problem) steps(c, o symptom.Channel, to []float64) []float64 {
	last := math.NaN()
	for i := range p.Marks {
		m := &p.Marks[i]
		if m.At >= p.Onset {
			break
		}
		gap := float64(m.Level[c]) - float64(m.Level[o]) - (p.Lead[c]-p.Lead[o])*float64(m.Rate)
		if d := math.Abs(gap - last); !math.IsNaN(d) {
			to = append(to, d)
		}
		last = gap
	}
	return to
}
