package symptom

import (
	"math"
	"math/bits"
)

// Noisy watches one level for noise it did not have: how far its readings go to
// and fro from one to the next, against what was learned of it. A level that
// rises or falls, also in jumps, goes one way and adds nothing, and a single
// wild reading adds little. Until that is learned it is held against what its data
// sheet allows, which somebody must say. The zero value is ready.
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
	Allowed float64 // standard deviation of a reading that may be while the usual one is not known, mm; 0: nobody says
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
	if !n.Learned() {
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
	loud := n.beyond(y, size, floor)
	if n.spell(loud, size); n.Since != 0 {
		n.lift(above)
		return
	}
	if !loud {
		n.learn(y)
		n.rest(above)
	}
}

// beyond reports whether a block is loud: by what is usual, or until that is known
// by what is allowed and by what was seen so far.
func (n *Noisy) beyond(y, size, floor float64) bool {
	if n.Known() {
		return y > n.limit() && size > noisyLeast+floor
	}
	return n.Allowed > 0 && size > n.Allowed && (!n.Learned() || y > n.limit())
}

func (n *Noisy) learn(y float64) {
	n.Loud = 0
	switch {
	case n.Known():
		n.Usual.add(y)
		n.Usual.forget(noisyForget)
	case !n.Learned() || y < n.Usual.mean()+calmWild:
		n.Usual.add(y)
	}
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
