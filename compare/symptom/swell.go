package symptom

import "math"

// Swell is how far the other levels go to and fro in the time from one reading of
// a subject to the next but one. A subject that is read seldom meets a swing of the
// liquid at any phase: it seems to stand still beside levels that move, or to be
// noisy beside levels that are quiet from one reading to the next. The zero value
// is ready.
type Swell struct {
	Before, Now [Channels]reach
	Mean        [Channels]float64 // of late, mm
	At          int64             // newest reading of the subject, Unix seconds
}

// reach is where a level was between two readings of the subject, mm.
type reach struct {
	First, Last, Low, High float64
	Seen                   bool
}

func (r *reach) add(x float64) {
	if !r.Seen {
		*r = reach{x, x, x, x, true}
	}
	r.Last, r.Low, r.High = x, math.Min(r.Low, x), math.Max(r.High, x)
}

// fro is how far a level went one way and came back in two spans in a row, mm.
func (r *reach) fro(next *reach) float64 {
	low, high := math.Min(r.Low, next.Low), math.Max(r.High, next.High)
	return math.Max(math.Min(high-r.First, high-next.Last), math.Min(r.First-low, next.Last-low))
}

// Constants of Swell (common practice, no source).
const (
	swellSmooth = 1.0 / 8
	swellClip   = 4.0  // of the mean: what counts of a wild level
	swellFree   = 30.0 // mm that count whole
	swellMove   = 1.5  // of the mean a move must exceed
	shakenMove  = 4.0  // standard deviations of a reading the same
	swellUsual  = 3.0  // standard deviations a level goes to and fro by its usual noise
)

// Add folds one minute: the newest levels, mm, and when each was known, and when
// the newest reading of the subject was taken.
func (s *Swell) Add(at, read int64, levels *[Channels]float64, known *[Channels]int64) {
	for o := range Channels {
		if known[o] == at {
			s.Now[o].add(levels[o])
		}
	}
	if read == 0 || read == s.At {
		return
	}
	together := read-s.At <= noisyApart
	s.At = read
	for o := range Channels {
		before, now := &s.Before[o], &s.Now[o]
		if together && before.Seen && now.Seen {
			fro := math.Min(before.fro(now), swellClip*s.Mean[o]+swellFree)
			s.Mean[o] += swellSmooth * (fro - s.Mean[o])
		}
		*before, *now = *now, reach{}
		if before.Seen { // the next span begins where this one ended
			now.add(before.Last)
		}
	}
}
