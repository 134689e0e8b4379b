package symptom

import (
	"math"
	"math/bits"
)

// Jump finds a gap that went elsewhere within minutes and stayed there. A vessel
// takes hours to be flushed with another liquid, so no density does that, and a
// jump may be less than what densities do to a gap in weeks. The zero value is
// ready.
type Jump struct {
	Newest [jumpBlocks]jumpBlock // ten-minute means, newest last
	Index  int64                 // of the newest, in ten minutes since the Unix epoch
	Filled uint8                 // blocks in a row

	Usual  float64 // gap of the last hours, mm
	Usuals uint8   // means it rests on

	From, Size float64 // mm: the gap before, and how far it went; Size 0: no jump
	Since      int64   // Unix seconds
	There      uint32  // newest blocks since, one bit each: those where it went to
	Seen       uint8   // blocks since
	Often      float64 // mm: how far it went lately and came back by itself
	Swings     float64 // mm: mean size of what the gap does in such a time
	Swung      uint16  // times that mean rests on
}

type jumpBlock struct{ Gap, Level float32 }

// JumpLimit is what a jump must exceed.
type JumpLimit struct {
	Least float64 // mm, while the level stays
	Steep float64 // mm for each millimetre the level moves
	Skew  float64 // s the two readings may be apart
}

const (
	jumpBlocks  = 5    // two before, the one it happens in, two after
	jumpAway    = 0.5  // of the jump that the gap before may be off its usual
	jumpStays   = 0.6  // of the jump that must be left
	jumpShare   = 0.75 // of the blocks of the confirmation
	jumpBack    = 3.0  // mm a jump may lead towards what is normal
	jumpShown   = 9    // blocks before it is shown
	jumpHours   = 8 * 3600.0
	jumpUsuals  = 36                // ten-minute means that tell the usual gap
	jumpPatient = 2 * confirmBlocks // blocks of time in which it must be confirmed
	jumpOften   = 1.3               // of the farthest that came back by itself
	jumpMemory  = 60 * 86400.0      // s
	jumpSwings  = 10.0              // of the mean swing: an exponential tail reaches that once in five months
	swingsKnown = 10 * 144          // swings the mean looks back on
	swingClip   = 4.0               // of the mean: what counts of a larger one
)

// Add folds the mean gap of a finished ten minutes less what is normal, and the
// level then, both in millimetres.
func (j *Jump) Add(at int64, gap, level float64, limit JumpLimit) {
	i := at / 600
	if i != j.Index+1 {
		j.Filled = 0
	}
	j.Index = i
	copy(j.Newest[:], j.Newest[1:])
	j.Newest[jumpBlocks-1] = jumpBlock{float32(gap), float32(level)}
	j.Filled = min(j.Filled+1, jumpBlocks)
	j.Often -= j.Often * 600 / jumpMemory
	if j.Size == 0 {
		j.look(at, limit)
	} else {
		j.follow(at, gap)
	}
	if j.Size == 0 { // what follows a jump is not usual yet
		if j.Usuals == 0 {
			j.Usual = gap
		}
		j.Usual += (gap - j.Usual) * -math.Expm1(-600/jumpHours)
		j.Usuals = min(j.Usuals+1, jumpUsuals)
	}
}

// look compares the two means before the middle one with the two after it.
func (j *Jump) look(at int64, limit JumpLimit) {
	if j.Filled < jumpBlocks || j.Usuals < jumpUsuals {
		return
	}
	b := &j.Newest
	before, after := float64(b[0].Gap+b[1].Gap)/2, float64(b[3].Gap+b[4].Gap)/2
	travel := math.Abs(float64(b[3].Level+b[4].Level-b[0].Level-b[1].Level)) / 2
	faster := math.Abs(float64(b[4].Level-b[3].Level-b[1].Level+b[0].Level)) / 600
	least := limit.Least + limit.Steep*travel + limit.Skew*faster
	size := after - before
	least = math.Max(least, jumpSwings*j.Swings)
	j.swing(math.Abs(size))
	apart := math.Min(math.Abs(float64(b[3].Gap)-before), math.Abs(float64(b[4].Gap)-before))
	switch {
	case math.Abs(size) < least || apart < jumpStays*math.Abs(size):
	case math.Abs(before-j.Usual) > jumpAway*math.Abs(size): // it came from where it had been for a while only
	case math.Abs(before)-math.Abs(after) > jumpBack: // back to normal
	default:
		j.From, j.Size, j.Since, j.There, j.Seen = before, size, at-3*600, 3, 2
	}
}

// swing learns how far the gap goes within half an hour when nothing is wrong:
// two waters, or two clocks, that are never quite together.
func (j *Jump) swing(size float64) {
	if j.Swung > 0 {
		size = math.Min(size, math.Max(swingClip*j.Swings, jumpBack))
	}
	j.Swung = min(j.Swung+1, swingsKnown)
	j.Swings += (size - j.Swings) / float64(j.Swung)
}

// follow counts the blocks in which the gap stays where it went.
func (j *Jump) follow(at int64, gap float64) {
	j.There <<= 1
	j.Seen = min(j.Seen+1, 250)
	if (gap-j.From)/j.Size >= jumpStays {
		j.There |= 1
	}
	n := min(int(j.Seen), confirmBlocks)
	gone := n - bits.OnesCount32(j.There&(1<<n-1))
	late := j.Seen < confirmBlocks && at-j.Since > jumpPatient*600
	if float64(gone) > (1-jumpShare)*confirmBlocks || late {
		j.Often = math.Max(j.Often, math.Abs(j.Size))
		j.Size, j.Seen = 0, 0
	}
}

// plain reports a jump farther than any of those that came back.
func (j *Jump) plain() bool { return j.Size != 0 && math.Abs(j.Size) >= jumpOften*j.Often }

// Shown reports a jump that has stayed long enough to be shown.
func (j *Jump) Shown() bool { return j.plain() && j.Seen >= jumpShown }

// Confirmed reports a jump that stayed for three hours.
func (j *Jump) Confirmed() bool { return j.plain() && j.Seen >= confirmBlocks }

// nats is the evidence of a jump: that of a watch, or of an alert.
func (j *Jump) nats() float64 {
	switch {
	case j.Confirmed():
		return AlertNats
	case j.Shown():
		return WatchNats
	}
	return 0
}

// Beside returns the jump with all gaps more by so many millimetres, for a
// normal that became less.
func (j Jump) Beside(more float64) Jump {
	for i := range j.Newest {
		j.Newest[i].Gap += float32(more)
	}
	j.Usual += more
	j.From += more
	return j
}
