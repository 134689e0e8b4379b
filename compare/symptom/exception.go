package symptom

import "math"

// Exception tells a device that sends only changes: it repeats its reading
// while the level moves less than its dead band, which hides its noise and
// looks like play. It is judged by the readings of commissioning alone, for a
// fault makes readings repeat too. The zero value is ready.
type Exception struct {
	Began    int64
	Readings float64
	Repeated float64 // those that were the one before
	Changes  float64 // minutes with a change
	Change   float64 // sum of the smallest change of each of them, mm
}

// repeatShare is the share of repeated readings by which a device sends only
// changes.
const repeatShare = 0.05

// bandLargest is the widest dead band, mm: a fast level makes larger changes.
const bandLargest = 5.0

// Add folds one minute of a channel.
func (e *Exception) Add(b *Block, channel Channel) {
	if !b.Has[channel] {
		return
	}
	if e.Began == 0 {
		e.Began = b.At
	}
	if b.At-e.Began < LearnSeconds {
		e.Readings += float64(b.Roughs[channel])
		e.Repeated += float64(b.Same[channel])
		if d := b.Change[channel]; d > 0 {
			e.Changes++
			e.Change += math.Min(d, bandLargest)
		}
	}
}

// Known reports whether a device sends only changes.
func (e *Exception) Known() bool { return e.Repeated > repeatShare*e.Readings }

// Band is how far the level may go before a device that sends only changes
// says so, mm; 0 for one that sends every reading.
func (e *Exception) Band() float64 {
	if !e.Known() || e.Changes == 0 {
		return 0
	}
	return e.Change / e.Changes
}
