package poll

import (
	"time"

	"bridlewatch/collector"
)

// skewWindow is how many reads the estimate of a clock difference looks back.
const skewWindow = 64

// skew estimates how far the clock of a source is behind ours. A new value
// takes a while to reach us, never less than nothing, so that the smallest
// difference between receipt and source time lately is the best estimate; it
// is too large by the shortest delay. A value that does not change keeps its
// source time and says nothing.
type skew struct {
	newest time.Time // source time seen
	recent [skewWindow]time.Duration
	reads  int
}

// note takes the samples of one read.
func (k *skew) note(samples []collector.Sample) {
	smallest, newest, found := time.Duration(0), k.newest, false
	for _, s := range samples {
		if s.SourceTime.IsZero() || !s.SourceTime.After(k.newest) {
			continue
		}
		if d := wall(s.Time).Sub(s.SourceTime); !found || d < smallest {
			smallest, found = d, true
		}
		if s.SourceTime.After(newest) {
			newest = s.SourceTime
		}
	}
	if found {
		k.newest = newest
		k.recent[k.reads%skewWindow] = smallest
		k.reads++
	}
}

// estimate is the smallest difference lately; known is false before the
// first.
func (k *skew) estimate() (behind time.Duration, known bool) {
	n := min(k.reads, skewWindow)
	if n == 0 {
		return 0, false
	}
	behind = k.recent[0]
	for _, d := range k.recent[1:n] {
		behind = min(behind, d)
	}
	return behind, true
}
