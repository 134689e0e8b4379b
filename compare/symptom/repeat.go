package symptom

import "math"

// Repeat counts how long a device has given one reading, equal to the last
// digit, while the other levels of the gauge went elsewhere. A device whose
// readings repeat in health, because it sends only changes or resolves little,
// is not judged: Exception knows it. The zero value is ready.
type Repeat struct {
	Since   int64             // Unix seconds of the first minute of the run, 0: none
	N       uint16            // readings of the run that were the one before
	Longest uint16            // of the runs that ended while nothing was suspected
	From    [Channels]float64 // where the levels were then, mm
	Seen    [Channels]bool    // which of them were known
}

// Constants of Repeat.
const (
	repeatLeast   = 10  // readings
	repeatFew     = 5   // the same while the device is far from another level
	repeatTimes   = 3   // as many as any run before
	repeatSeconds = 900 // a gateway that is restarted repeats what it had for ten minutes
	repeatMove    = 5.0 // mm another level must have gone, far beyond a finest digit
)

// Add folds one minute of a channel. A reading at a tap, or at an end of its
// signal, may well repeat and ends the run, as every reading that differs
// does.
func (r *Repeat) Add(b *Block, channel Channel, levels *[Channels]float64, at *[Channels]int64, healthy bool) {
	n, same := b.Roughs[channel], b.Same[channel]
	if b.Bound[channel] || n > 0 && same < n {
		if healthy {
			r.Longest = max(r.Longest, r.N)
		}
		r.Since, r.N = 0, 0
		return
	}
	if same == 0 {
		return
	}
	if r.Since == 0 {
		r.Since = b.At
		r.From = *levels
		for c := range at {
			r.Seen[c] = at[c] == b.At
		}
	}
	r.N = uint16(min(int(r.N)+int(same), math.MaxUint16))
}

// Stands reports whether the run is longer than any in health and long enough
// for nothing but a frozen device.
func (r *Repeat) Stands(at int64) bool {
	return r.Since != 0 && at-r.Since >= repeatSeconds && r.N >= max(repeatLeast, repeatTimes*r.Longest)
}

// Stood reports whether the run began by a time and is too long for a device in
// health: no echo that foam lifts repeats to the last digit.
func (r *Repeat) Stood(since int64) bool {
	return r.Since != 0 && r.Since <= since && r.N >= max(repeatFew, repeatTimes*r.Longest)
}

// Again reports whether the run goes on and may still be that of a gateway which
// was restarted and repeats what it had.
func (r *Repeat) Again(at int64) bool {
	return r.Since != 0 && r.N > 0 && at-r.Since < repeatSeconds
}

// Left reports how far another channel has gone since the run began, mm, and
// whether that is more than the finest digit of the device can hide.
func (r *Repeat) Left(c Channel, level float64) (mm float64, far bool) {
	mm = level - r.From[c]
	return mm, r.Seen[c] && math.Abs(mm) >= repeatMove
}
