package symptom

import (
	"math"

	"bridlewatch/compare/sequential"
)

// Calm watches a transmitter for the loss of the noise it always had: it is
// damped, blocked or about to freeze. How noisy it should be is learned for
// each liveliness of the liquid, as another instrument sees it, and for each
// speed of the level, so that a calm liquid is not taken for a calm
// transmitter. A device that sends only changes hides its noise and is not
// judged. The zero value is ready.
type Calm struct {
	Ten       int64   // index of the running ten minutes
	Sum, N    float64 // of the transmitter's departures, mm²
	Other, M  float64 // of the witness's
	Low, High float64 // range of the level, mm
	Began     int64

	Usual [calmWaves][calmSpeeds]Usual
	Fall  sequential.Cusum // downwards
	Lost  bool             // latched until the sum is nearly gone
	Ratio float64          // newest noise over the usual, standard deviations, smoothed; 0: not judged yet
}

// Usual is the logarithm of a variance as it was learned.
type Usual struct{ N, X, XX float64 }

func (u *Usual) mean() float64 { return u.X / u.N }

func (u *Usual) sigma() float64 {
	m := u.mean()
	return math.Max(calmSigma, math.Sqrt(math.Max(0, u.XX/u.N-m*m)))
}

func (u *Usual) add(y float64) { u.N, u.X, u.XX = u.N+1, u.X+y, u.XX+y*y }

// forget keeps what was learned no heavier than so many values.
func (u *Usual) forget(most float64) {
	if u.N > most {
		u.N, u.X, u.XX = most, u.X*most/u.N, u.XX*most/u.N
	}
}

const (
	calmWaves  = 8
	calmSpeeds = 4
	calmLearn  = 24   // ten-minute blocks of one kind before it is judged
	calmSigma  = 0.45 // nats, least scatter of the logarithm of a variance of ten readings
	calmFloor  = 0.02 // mm², below every instrument's noise
	calmLeast  = 0.10 // mm², usual variance too small to lose
	calmWild   = 2.0  // nats above the mean so far that are not learned
	calmSmooth = 0.05
	calmTrend  = 0.6 // share of the usual noise below which a loss is believed
	calmOwn    = 0.5 // share of its roughness a transmitter may have from the level for a loss to show
	calmShown  = 0.2 // of the time
)

// calmDesign allows the variance to fall to 55 per cent and looks for 27: six
// hours of blocks at least.
var calmDesign = sequential.Design{D0: 0.6, D1: 1.3, S: calmSigma, H: AlertNats, Blocks: 36}

// Add folds one minute of a channel and of a witness; without a witness they
// are the same channel. changesOnly says that the channel's device sends no
// reading that repeats the last.
func (c *Calm) Add(b *Block, channel, witness Channel, changesOnly bool) {
	at, level, n := b.At, b.Level[witness], float64(b.Roughs[channel])
	if i := at / 600; i != c.Ten {
		if c.N >= 5 {
			c.block(at, changesOnly)
		}
		c.Ten, c.Sum, c.N, c.Other, c.M, c.Low, c.High = i, 0, 0, 0, 0, level, level
	}
	c.Sum, c.N = c.Sum+b.Rough[channel], c.N+n
	if witness != channel {
		c.Other, c.M = c.Other+b.Rough[witness], c.M+float64(b.Roughs[witness])
	}
	c.Low, c.High = math.Min(c.Low, level), math.Max(c.High, level)
}

func (c *Calm) block(at int64, changesOnly bool) {
	if c.Began == 0 {
		c.Began = at
	}
	y, u := math.Log(c.Sum/c.N+calmFloor), c.usual()
	if u.N < calmLearn || at-c.Began < LearnSeconds {
		if c.Fall.Down < WatchNats && (u.N < 8 || y < u.mean()+calmWild) {
			u.add(y)
		}
		return
	}
	if u.mean() < math.Log(calmLeast) || changesOnly {
		return
	}
	d, x := calmDesign, y-u.mean()
	d.S = u.sigma()
	c.Fall.Add(d, x, at)
	c.Fall.Cap(2 * AlertNats)
	if c.Ratio == 0 {
		c.Ratio = 1
	}
	c.Ratio += calmSmooth * (math.Min(math.Exp(x/2), 2) - c.Ratio)
	switch {
	case c.Fall.Down >= AlertNats && c.Ratio < calmTrend:
		c.Lost = true
	case c.Fall.Down < WatchNats:
		c.Lost = false
	}
}

// usual is what was learned for the present liveliness and speed.
func (c *Calm) usual() *Usual {
	wave, speed := 0, 0
	if c.M > 0 {
		wave = int(math.Max(0, math.Min(calmWaves-1, math.Floor(3+math.Log2(c.Other/c.M+1e-9)))))
	}
	for _, limit := range [...]float64{2, 10, 40} {
		if c.High-c.Low > limit {
			speed++
		}
	}
	return &c.Usual[wave][speed]
}

// Shows reports whether a loss of noise would stand out: the transmitter must be
// rougher than the level itself, by the witness, for a fair share of the time
// there was to learn from. ok is false while too little is learned.
func (c *Calm) Shows() (yes, ok bool) {
	all, shown := 0.0, 0.0
	for wave := range c.Usual {
		level := math.Exp2(float64(wave) - 2.5) // of the witness, the middle of its class
		for speed := range c.Usual[wave] {
			u := &c.Usual[wave][speed]
			all += u.N
			if u.N >= calmLearn && u.mean() >= math.Log(calmLeast) && level < calmOwn*math.Exp(u.mean()) {
				shown += u.N
			}
		}
	}
	return shown >= calmShown*all, all >= 4*calmLearn
}
