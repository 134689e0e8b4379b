package shape

import (
	"math"
	"slices"
)

// besideSwing is how far off the density may be for others that are apart to
// be called agreed, standard uncertainties.
const besideSwing = 2.0

// beside is how far the others are apart since the onset while the channel is
// left out, whatever the form of its error: the mean square in what it may be,
// about 1 where they agree. It is 0 where there is one other only.
func (f *fitter) beside() float64 {
	n := len(f.points)
	if len(f.p.Channels) < 3 {
		return 0
	}
	k0 := n - leastRun
	for i := range f.points {
		if f.points[i].at >= f.p.Onset {
			k0 = min(i, k0)
			break
		}
	}
	a := math.Max(-besideSwing, math.Min(besideSwing, f.swung(k0, nil)))
	sum := 0.0
	for i := k0; i < n; i++ {
		sum += capped(f.rests[i].parted(a))
	}
	return sum / float64((n-k0)*(len(f.p.Channels)-2))
}

// AtDensity is the problem as it would be had the density not been off as a fit
// found it from its onset on.
func (p *Problem) AtDensity(off *Fit) *Problem {
	q := *p
	q.Marks = slices.Clone(p.Marks)
	for i := range q.Marks {
		if m := &q.Marks[i]; m.At >= off.Onset {
			for _, c := range p.Channels {
				m.Level[c] -= float32(off.Size) * m.Density[c]
			}
		}
	}
	return &q
}
