package symptom

// Exception tells a device that sends only changes: it repeats its reading
// while the level moves less than its dead band, which hides its noise and
// looks like play. It is judged by the readings of commissioning alone, for a
// fault makes readings repeat too. The zero value is ready.
type Exception struct {
	Began    int64
	Readings float64
	Repeated float64 // those that were the one before
}

// repeatShare is the share of repeated readings by which a device sends only
// changes.
const repeatShare = 0.05

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
	}
}

// Known reports whether a device sends only changes.
func (e *Exception) Known() bool { return e.Repeated > repeatShare*e.Readings }
