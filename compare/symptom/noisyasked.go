package symptom

import "math"

// What is asked of Noisy.

// Known reports whether the usual noise is learned.
func (n *Noisy) Known() bool { return n.Usual.N >= noisyLearn && n.Newest-n.Began >= noisyDays }

// Learned reports whether enough was seen to say what is usual, if not yet for sure.
func (n *Noisy) Learned() bool { return n.Usual.N >= learnWarmUp }

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

// Heard reports whether the newest blocks say how much the level scatters now, also
// before it is known how much it usually does.
func (n *Noisy) Heard(at int64) bool {
	return n.Began != 0 && float64(n.Newest-n.Began) >= n.View() && at-n.Newest <= noisyLongest
}

// Shakes reports readings that go to and fro at this moment as those of a loud
// block do: noise, or one wild reading some minutes ago.
func (n *Noisy) Shakes() bool {
	if !n.Known() {
		return n.Allowed > 0 && n.Quick > toAndFro*n.Allowed
	}
	return n.Quick > n.loud()
}

// Keeps reports whether the level stays as quiet beside noise of a size, mm, as it
// always was, or while that is not known, as a level beside that noise may be. Some
// wild readings do not count.
func (n *Noisy) Keeps(size float64) bool {
	usual := 0.0
	if n.Known() {
		usual = n.Usually()
	}
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
