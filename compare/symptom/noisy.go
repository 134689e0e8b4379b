package symptom

import (
	"math"
	"math/bits"
)

// Noisy watches one level for noise it did not have: how far its readings go to
// and fro from one to the next, against what was learned of it. A level that
// rises or falls, also in jumps, goes one way and adds nothing, and a single
// wild reading adds little. The zero value is ready.
type Noisy struct {
	X, Step float64 // newest reading and step, mm
	At      int64   // when it was read, Unix seconds
	Stepped int64   // when the newest step ended
	Every   float64 // seconds from one reading to the next, smoothed

	Quick float64 // how far the newest steps went to and fro, wild ones cut off, mm

	Began   int64   // first block ever
	Start   int64   // of the running block
	N       float64 // steps in it
	Sum     float64 // what they went to and fro, wild ones cut off, mm
	Whole   float64 // the same, cut off late, mm
	Above   float64 // sums of how far it stood above its witness
	Beside  float64 // and of how often that was seen
	Loud    float64 // mean of a block from which it is loud, mm, by Usual; 0: not yet reckoned
	Usual   Usual   // of the logarithm of the mean of a block, mm
	Now     float64 // standard deviation of a reading in the newest blocks, wild ones cut off, mm
	Newest  int64   // end of the newest block
	History uint32  // newest blocks, one bit each: it was loud

	Since        int64   // onset of the noise, 0: none
	All, Louds   float64 // blocks since then, and those that were loud
	Size         float64 // standard deviation of a reading since then, mm
	Rest, Lift   float64 // where it stood beside its witness before, and since then above that, mm
	Rests, Lifts float64 // blocks they rest on
	Strays       float64 // variance of the blocks of Rest, mm²

	Alone   int64   // since when the others have kept theirs beside it, 0: they do not
	Longest float64 // s, noise that ended by itself, forgotten slowly
	Ended   int64   // when the last did
}

// Constants of Noisy (common practice, no source).
const (
	noisyApart     = 1200         // s: readings farther apart are not neighbours
	noisySteps     = 4            // of a block, which lasts ten minutes at least
	noisyLongest   = 3 * 3600     // s, longest block
	noisyLearn     = 100          // blocks, over noisyDays, before it is judged
	noisyDays      = 3 * 86400    // s
	noisyForget    = 8640         // blocks what is usual looks back on
	noisyFloor     = 0.5          // mm: what resolution makes of a resting reading
	noisyWild      = 4.0          // times what a loud block has: what counts of a larger step
	noisyLargest   = 500.0        // mm
	noisyTimes     = 2.5          // of the usual from which a block is loud
	noisySpread    = 2.5          // standard deviations of the usual logarithm it must be off as well
	noisyLeast     = 3.0          // mm, standard deviation of a loud block
	noisyBlocks    = 6            // newest blocks that open and end a spell
	noisyOpens     = 5            // of them loud
	noisyEnds      = 1            // of them loud
	noisyQuiet     = 2            // of them loud, and it still counts as quiet
	noisyShare     = 0.8          // of the blocks since the onset, for it to be sure
	noisySure      = 12           // blocks since the onset, for it to be sure
	noisyOutlasts  = 2.0          // times the longest noise that ended by itself, for it to be sure
	noisyRemembers = 60 * 86400.0 // s, how long that is remembered
	toAndFro       = 0.57         // standard deviations white noise goes to and fro in the mean
	noisySmooth    = 0.2          // of the newest block in Now
	quickSmooth    = 0.25         // of the newest step in Quick
	restBlocks     = 144          // that Rest looks back on
	liftBlocks     = 144          // that Lift looks back on
	liftAlike      = 24           // blocks in a row that stray together
)

// Add folds one minute of a channel: its newest reading, and, where ok, how far
// its level stood above that of its witness, mm. resolution is the step of the
// reading, mm.
func (n *Noisy) Add(b *Block, c Channel, above float64, ok bool, resolution float64) {
	if b.Read[c] == 0 || b.Read[c] == n.At {
		return
	}
	n.reading(b.Read[c], b.Newest[c])
	if ok {
		n.Above, n.Beside = n.Above+above, n.Beside+1
	}
	if age := b.At - n.Start; n.Start == 0 || age > noisyLongest {
		n.open(b.At)
	} else if age >= 600 && n.N >= noisySteps {
		n.block(b.At, math.Max(noisyFloor, resolution/2))
		n.open(b.At)
	}
}

func (n *Noisy) open(at int64) {
	n.Start, n.N, n.Sum, n.Whole, n.Above, n.Beside = at, 0, 0, 0, 0, 0
}

// reading books how far the newest step takes back the one before.
func (n *Noisy) reading(at int64, x float64) {
	step, apart := x-n.X, at-n.At
	if n.At == 0 || apart <= 0 || apart > noisyApart {
		n.X, n.At, n.Step, n.Stepped = x, at, 0, 0
		return
	}
	n.Every += (float64(apart) - n.Every) / 16
	if n.Stepped != 0 {
		back := 0.0
		if step*n.Step < 0 {
			back = math.Min(math.Abs(step), math.Abs(n.Step))
		}
		n.N++
		n.Sum += math.Min(back, n.wild())
		n.Quick += quickSmooth * (math.Min(back, n.wild()) - n.Quick)
		n.Whole += math.Min(back, noisyLargest)
	}
	n.X, n.At, n.Step, n.Stepped = x, at, step, at
}

// wild is where a step is cut off, mm.
func (n *Noisy) wild() float64 {
	if n.Usual.N < learnWarmUp {
		return noisyLargest
	}
	return noisyWild * n.loud()
}

func (n *Noisy) block(at int64, floor float64) {
	if n.Began == 0 {
		n.Began = at
	}
	n.Newest = at
	y, size := math.Log(n.Sum/n.N+floor), n.Whole/n.N/toAndFro
	n.Now += noisySmooth * (n.Sum/n.N/toAndFro - n.Now)
	above := math.NaN()
	if n.Beside > 0 {
		above = n.Above / n.Beside
	}
	if !n.Known() {
		if n.Usual.N < learnWarmUp || y < n.Usual.mean()+calmWild {
			n.learn(y)
		}
		n.rest(above)
		return
	}
	loud := y > n.limit() && size > noisyLeast+floor
	if n.spell(loud, size); n.Since != 0 {
		n.lift(above)
		return
	}
	if !loud {
		n.learn(y)
		n.Usual.forget(noisyForget)
		n.rest(above)
	}
}

func (n *Noisy) learn(y float64) {
	n.Usual.add(y)
	n.Loud = 0
}

// limit is the logarithm above which a block is loud.
func (n *Noisy) limit() float64 {
	return n.Usual.mean() + math.Max(math.Log(noisyTimes), noisySpread*n.spread())
}

// loud is limit in mm. It is asked at every scan and changes with a block.
func (n *Noisy) loud() float64 {
	if n.Loud == 0 {
		n.Loud = math.Exp(n.limit())
	}
	return n.Loud
}

// spread is the standard deviation of the logarithm of a block when all is well.
func (n *Noisy) spread() float64 {
	m := n.Usual.mean()
	return math.Sqrt(math.Max(0, n.Usual.XX/n.Usual.N-m*m))
}

// spell opens and ends the noise by the newest blocks.
func (n *Noisy) spell(loud bool, size float64) {
	n.History <<= 1
	if loud {
		n.History |= 1
	}
	count := n.louds()
	switch {
	case n.Since == 0 && count >= noisyOpens:
		n.Since, n.All, n.Louds, n.Size = n.Newest-int64(n.View()), noisyBlocks, float64(count), size
		return
	case n.Since != 0 && count <= noisyEnds:
		n.Longest, n.Ended = math.Max(n.longest(), float64(n.Newest-n.Since)), n.Newest
		n.Since, n.All, n.Louds, n.Size, n.Lift, n.Lifts = 0, 0, 0, 0, 0, 0
		return
	case n.Since == 0:
		return
	}
	n.All++
	if loud {
		n.Louds++
		n.Size += math.Max(0.1, 1/n.Louds) * (size - n.Size)
	}
}

// View is how long the newest blocks last, s: so long after a change they say how
// it is now.
func (n *Noisy) View() float64 { return noisyBlocks * math.Max(600, noisySteps*n.Every) }

// louds is how many of the newest blocks were loud.
func (n *Noisy) louds() int { return bits.OnesCount32(n.History & (1<<noisyBlocks - 1)) }

func (n *Noisy) rest(above float64) {
	if !math.IsNaN(above) {
		n.Rests = math.Min(n.Rests+1, restBlocks)
		off := above - n.Rest
		n.Rest += off / n.Rests
		n.Strays += (off*(above-n.Rest) - n.Strays) / n.Rests
	}
}

func (n *Noisy) lift(above float64) {
	if !math.IsNaN(above) && n.Rests >= noisyBlocks {
		n.Lifts = math.Min(n.Lifts+1, liftBlocks)
		n.Lift += (above - n.Rest - n.Lift) / n.Lifts
	}
}

// LiftU is how far Lift may be off by what the level strayed from its witness
// before: a tide or a batch moves it for hours.
func (n *Noisy) LiftU() float64 {
	return math.Sqrt(n.Strays * math.Min(1, liftAlike/math.Max(1, n.Lifts)))
}

// Known reports whether the usual noise is learned.
func (n *Noisy) Known() bool { return n.Usual.N >= noisyLearn && n.Newest-n.Began >= noisyDays }

// Usually is the standard deviation a reading has when all is well, mm, its
// resolution included.
func (n *Noisy) Usually() float64 {
	if n.Usual.N == 0 {
		return 0
	}
	return math.Exp(n.Usual.mean()) / toAndFro
}

// Sure reports noise that has lasted for so many seconds beside others that keep
// theirs, without much of a break, and longer than what came and went by itself
// lately: swell and swings of the liquid do, which not every level is open to, and
// which do not leave all levels at once.
func (n *Noisy) Sure(lasts int64) bool {
	least := math.Max(float64(lasts), noisyOutlasts*n.longest())
	return n.Since != 0 && n.Alone != 0 && float64(n.Newest-n.Alone) >= least && n.All >= noisySure && n.Louds >= noisyShare*n.All
}

// Quiet books whether every other level keeps its own noise beside it. Where
// they do as soon as it is found, they did from its onset on.
func (n *Noisy) Quiet(at int64, others bool) {
	switch {
	case !others:
		n.Alone = 0
	case n.Alone == 0 && float64(at-n.Since) <= n.View()+noisySteps*n.Every:
		n.Alone = n.Since
	case n.Alone == 0:
		n.Alone = at
	}
}

// longest is how long noise lasted that ended by itself, s.
func (n *Noisy) longest() float64 {
	return n.Longest * math.Exp(-float64(n.Newest-n.Ended)/noisyRemembers)
}

// Judged reports whether the level is judged now.
func (n *Noisy) Judged(at int64) bool { return n.Known() && at-n.Newest <= noisyLongest }

// Shakes reports readings that go to and fro at this moment as those of a loud
// block do: noise, or one wild reading some minutes ago.
func (n *Noisy) Shakes() bool { return n.Known() && n.Quick > n.loud() }

// Keeps reports whether the level stays as quiet beside noise of a size, mm, as it
// always was. Some wild readings do not count.
func (n *Noisy) Keeps(size float64) bool {
	usual := n.Usually()
	return n.louds() <= noisyQuiet && n.Now*n.Now <= usual*usual+noisyBeside*noisyBeside*size*size
}

// Swings reports whether the level went to and fro by more than its usual noise, mm,
// between readings of another with noise of a size, mm, so that it is the liquid.
func (n *Noisy) Swings(fro, size float64) bool {
	return fro-swellUsual*n.Usually() >= noisyBeside*size
}

// noisyBeside is how much of another's noise a level may have grown by and still
// count as quiet: waves are in every level of one liquid, damped to half at most.
const noisyBeside = 0.35

// Of is what the noise makes of a mean over so many seconds, mm.
func (n *Noisy) Of(seconds float64) float64 {
	if n.Since == 0 {
		return 0
	}
	return n.Size * n.meant(seconds)
}

// Shaking is what the readings of the last hour make of a mean over so many seconds,
// mm, whoever shares it.
func (n *Noisy) Shaking(seconds float64) float64 {
	if !n.Judged(n.At) {
		return 0
	}
	return n.Now * n.meant(seconds)
}

// meant is the share of a reading's scatter that is left in a mean over so many
// seconds: by how many readings make it.
func (n *Noisy) meant(seconds float64) float64 {
	return math.Sqrt(math.Min(1, math.Max(minuteLeast, n.Every)/seconds))
}

const minuteLeast = 60.0 // s between the readings that are looked at, at least
