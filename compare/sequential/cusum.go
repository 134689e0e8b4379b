// Package sequential detects a change in a stream of numbers as early as a
// given false-alert rate allows.
//
// # Composite cumulative sum
//
// An instrument that is merely inexact must not alert, so no test here asks
// "is the mean zero?". A Cusum weighs H0 |b| <= D0 (what the uncertainty
// budget allows) against H1 |b| >= D1 with the log-likelihood ratio
//
//	l = (D1-D0)/s² · (x - (D0+D1)/2),   S = max(0, S + clip(l))
//
// in natural-log units (nats), one sum per sign. With independent Gaussian
// data the mean time between false crossings of the threshold h is at least
// e^h per sign (Lorden 1971). Every increment is clipped to h/Blocks, so that
// no data whatever can cross the threshold in fewer than Blocks blocks.
//
// # Run lengths
//
// ARL and its relatives compute average run lengths by Siegmund's corrected
// diffusion (1985) and by the Markov chain of Brook & Evans (1972), for the
// design of thresholds and as the yardstick detectors are measured against.
package sequential

import "math"

// Design is the test one Cusum performs. D0, D1 and S have the unit of the
// data, H is in nats.
type Design struct {
	D0     float64 // magnitude that is allowed
	D1     float64 // magnitude worth finding, > D0
	S      float64 // standard deviation of one block
	H      float64 // threshold
	Blocks float64 // smallest number of blocks that can cross the threshold
}

// Cusum is a pair of one-sided sums with the onset estimate of each: the
// number of blocks since the sum was last zero. The zero value is ready.
type Cusum struct {
	Up, Down           float64 // nats for a positive and for a negative change
	UpBlocks, DnBlocks uint32  // blocks since last zero
	UpOnset, DnOnset   int64   // time of the first block after last zero, as given to Add
}

// Add folds one block value taken at time at into the sums. NaN adds nothing.
func (c *Cusum) Add(d Design, x float64, at int64) {
	if math.IsNaN(x) || !(d.S > 0) || !(d.D1 > d.D0) {
		return
	}
	gain, middle, limit := (d.D1-d.D0)/(d.S*d.S), (d.D0+d.D1)/2, d.H/d.Blocks
	c.Up, c.UpBlocks, c.UpOnset = step(c.Up, clip(gain*(x-middle), limit), c.UpBlocks, c.UpOnset, at)
	c.Down, c.DnBlocks, c.DnOnset = step(c.Down, clip(gain*(-x-middle), limit), c.DnBlocks, c.DnOnset, at)
}

func step(sum, l float64, n uint32, onset, at int64) (float64, uint32, int64) {
	if sum == 0 {
		onset, n = at, 0
	}
	sum += l
	if sum <= 0 {
		return 0, 0, at
	}
	return sum, n + 1, onset
}

func clip(l, limit float64) float64 { return math.Max(-limit, math.Min(limit, l)) }

// Max returns the larger sum, its sign and its onset.
func (c *Cusum) Max() (nats, sign float64, onset int64) {
	if c.Down > c.Up {
		return c.Down, -1, c.DnOnset
	}
	return c.Up, 1, c.UpOnset
}

// Cap keeps both sums at or below limit, so that a long episode is forgotten
// in bounded time once it is over.
func (c *Cusum) Cap(limit float64) {
	c.Up, c.Down = math.Min(c.Up, limit), math.Min(c.Down, limit)
}

// Threshold returns the h in nats that keeps the expected number of false
// crossings per year at or below alerts for tests one-sided sums with blocks
// per year each, by the e^h bound.
func Threshold(tests, blocks, alerts float64) float64 { return math.Log(tests * blocks / alerts) }

// Variance is a cumulative sum for a change of the variance of zero-mean
// values by Ratio (new / old, not 1), in nats: for z = x/s,
// l = (z²(1-1/Ratio) - ln Ratio)/2. The zero value is ready.
type Variance struct {
	Sum    float64
	Blocks uint32
	Onset  int64
}

// Add folds the mean square z2 of n values, in units of the reference
// variance, into the sum; the increment is clipped to limit nats.
func (v *Variance) Add(z2, n, ratio, limit float64, at int64) {
	if math.IsNaN(z2) || n <= 0 || ratio <= 0 || ratio == 1 {
		return
	}
	l := n * (z2*(1-1/ratio) - math.Log(ratio)) / 2
	v.Sum, v.Blocks, v.Onset = step(v.Sum, clip(l, limit), v.Blocks, v.Onset, at)
}

// EWMA is an exponentially weighted moving average with the exact variance of
// its start (Lucas & Saccucci 1990). The zero value is not started: the first
// value starts it.
type EWMA struct {
	Z    float64
	Left float64 // (1-lambda)^(2t), 1 before the first value
	N    uint32
}

// Add folds x into the average with weight lambda, 0 < lambda <= 1, starting
// at mean.
func (e *EWMA) Add(lambda, mean, x float64) {
	if e.N == 0 {
		e.Z, e.Left = mean, 1
	}
	e.Z += lambda * (x - e.Z)
	e.Left *= (1 - lambda) * (1 - lambda)
	e.N++
}

// Sigma returns the standard deviation of the average for data of standard
// deviation s.
func (e *EWMA) Sigma(lambda, s float64) float64 {
	return s * math.Sqrt(lambda/(2-lambda)*(1-e.Left))
}

// Roberts is the Shiryaev–Roberts statistic R = (1+R)·e^l for a known change
// from N(0,1) to N(delta,1). R/(R+1/p) is the probability that the change has
// happened when its time is geometric with parameter p.
type Roberts struct{ R float64 }

// Add folds one standardised value into the statistic.
func (r *Roberts) Add(delta, x float64) {
	r.R = (1 + r.R) * math.Exp(delta*x-delta*delta/2)
}

// Probability returns the posterior probability of a change for prior p per
// value.
func (r *Roberts) Probability(p float64) float64 { return r.R / (r.R + 1/p) }
