package symptom

import (
	"math"
	"math/bits"

	"bridlewatch/compare/sequential"
)

// Thresholds of the gap tests in nats: a watch is shown, an alert announced.
const (
	WatchNats = 6.0
	AlertNats = 16.0
)

// Confirmation of an offset before it is an alert: three hours of ten-minute
// blocks, seven of ten beyond the middle of the composite test.
const (
	confirmBlocks = 18
	confirmShare  = 0.7
	grossMM       = 100.0 // beyond this, plus a minute of movement, no confirmation is asked for
	grossMinutes  = 2     // medians of three in a row
	burstValues   = 10    // the same, and of Prompt, where values are minutes apart or corrupt ones come in bursts
	plainLeast    = 16.0  // mm
	plainMore     = 10.0  // mm beyond one and a half times what is allowed
	burstLongest  = 4 * 3600
	burstMemory   = 5 * 86400.0
	wildLongest   = 1800 // s
	wildMemory    = 20 * 86400.0
	wildTold      = 0.5
	clearBlocks   = 144 // ten-minute blocks within d0 before a gap counts as gone
)

// Gap watches one pair. All lengths are millimetres. The three rates see the
// same gap: single minutes for large faults, ten-minute means for most, four-
// hour means for small and slow ones. The zero value is ready.
type Gap struct {
	Median Median

	Ten  Mean // of the running ten minutes
	Four Mean // of the running four hours

	Fast, Medium, Slow sequential.Cusum
	Stated             sequential.Cusum // of the whole gap against the stated budget, beside the change against a baseline

	Step     sequential.Cusum // of the gap against where it was in the last weeks
	Recent   float64          // where that is, mm beyond the baseline
	RecentAt int64

	Jump Jump

	High, Low, Seen uint32 // newest ten-minute blocks beyond the middle, and valid
	Within          uint16 // ten-minute blocks in a row within d0
	Gross           uint8  // minutes in a row beyond the gross limit
	Sparse          bool   // minutes come more than two minutes apart
	Plain           uint16 // minutes in a row plainly beyond what is allowed
	PlainSince      int64
	PlainSign       float64
	Prompt          Prompt  // the same by a smaller margin
	BurstAt         int64   // when such a gap last came and went within hours
	BurstSign       float64 // its sign
	Bursts          float64 // how many came and went, forgotten within a week
	GrossSince      int64
	Patient         bool    // the user states what a gap may be
	Wild            float64 // how many gross gaps came and went within minutes, forgotten within weeks
	WildAt          int64
	GrossSign       float64
	Allowed         float64 // what the newest block was allowed, mm
	Last            float64 // newest ten-minute mean
	LastAt          int64
}

// Mean is a running mean over a fixed span of time.
type Mean struct {
	Index      int64 // of the span, in units of its length since the Unix epoch
	N, X, S, V float64
}

// add folds a value and reports the finished mean of the previous span, its
// skew seconds and its speed.
func (m *Mean) add(at, length int64, x, skew, speed float64) (mean, meanSkew, meanSpeed float64, done bool) {
	if i := at / length; i != m.Index {
		if m.N > 0 {
			mean, meanSkew, meanSpeed, done = m.X/m.N, m.S/m.N, m.V/m.N, true
		}
		*m = Mean{Index: i}
	}
	m.N++
	m.X += x
	m.S += skew
	m.V += speed
	return mean, meanSkew, meanSpeed, done
}

// Tolerance is what a pair's gap may be before it says anything.
type Tolerance struct {
	UD     float64  // allowed systematic gap, mm; of the change when Normal is known
	Stated float64  // allowed whole gap, mm; 0: the same as UD
	Normal float64  // the gap that is normal now, mm
	Floor  float64  // extra for a vessel-side pair, whose balance is less well known, mm
	Weeks  float64  // allowed change from the last weeks, mm; 0: no less than UD
	Usual  float64  // the gap by the baseline, mm
	Sigma  float64  // standard deviation of a ten-minute mean of this pair, mm; 0: default
	Limit  bool     // UD is the user's own limit
	Again  bool     // both readings are those of the minute before: sent again, not measured again
	Loud   Loudness // what a noisy instrument of the pair adds
}

// Loudness is the standard deviation a noisy instrument gives a gap, mm: of the
// minutes, and of means over ten minutes and four hours.
type Loudness struct{ Minute, Ten, Four float64 }

// loudest is how many of its standard deviations noise may reach for minutes.
const loudest = 3.0

func (t Tolerance) fast(speed, skew float64) sequential.Design {
	d0 := math.Max(15, t.UD+9) + t.Floor
	return sequential.Design{D0: d0, D1: d0 + 15, S: math.Hypot(5+(20+skew)*speed, t.Loud.Minute), H: AlertNats, Blocks: 5}
}

// againstBaseline reports whether a change is judged, and not the whole gap: what
// is constant is known then, and a smaller excess means something.
func (t Tolerance) againstBaseline() bool { return t.Stated > 0 }

func (t Tolerance) medium(speed, skew float64) sequential.Design {
	d0, least := math.Max(6, t.UD)+t.Floor, 6.0
	if t.Sigma > 0 { // a baseline tells how much this pair really scatters
		d0, least = math.Max(5, t.UD)+t.Floor, math.Max(3.5, 1.5*t.Sigma)
	}
	more := 7.0
	if t.againstBaseline() {
		more = 4
	}
	return sequential.Design{D0: d0, D1: d0 + more, S: math.Hypot(math.Hypot(least, t.Loud.Ten), (10+skew)*speed), H: AlertNats, Blocks: 6}
}

func (t Tolerance) slow() sequential.Design {
	d0, s, more := math.Max(3.5, t.UD)+t.Floor, 2.0, 4.0
	if t.Sigma > 0 {
		s = math.Max(1.3, t.Sigma/2)
	}
	if t.againstBaseline() {
		s, more = math.Max(1, t.Sigma/2), 3
	}
	return sequential.Design{D0: d0, D1: d0 + more, S: math.Hypot(s, t.Loud.Four), H: AlertNats, Blocks: 5}
}

// Add folds the gap of one minute in millimetres, seen at Unix time at while
// the level moved at speed mm/s and the two readings were skew seconds apart.
// It reports the mean of a finished ten-minute block.
func (g *Gap) Add(t Tolerance, at int64, gap, speed, skew float64) (mean float64, finished bool) {
	g.Sparse, g.Patient = at-g.Median.At > 120, t.Limit
	x, ok := g.Median.Add(at, gap)
	if !ok { // nothing is in a row over half an hour without a gap
		g.Gross, g.Plain, g.Prompt = 0, 0, Prompt{}
		return 0, false
	}
	x -= t.Normal
	g.Fast.Add(t.fast(speed, skew), x, at)
	g.Fast.Cap(2 * AlertNats)
	if !t.Again {
		g.gross(at, x, 60*speed+skew*speed+t.UD+t.Floor+loudest*t.Loud.Minute)
		movement := (20+skew)*speed + loudest*t.Loud.Minute
		g.plain(at, x, t, movement)
		g.Prompt.add(at, x, t, movement)
	}
	if mean, s, v, done := g.Four.add(at, 4*3600, x, skew, speed); done && s*v < 10 {
		g.Slow.Add(t.slow(), mean, at)
		g.Slow.Cap(2 * AlertNats)
	}
	mean, s, v, done := g.Ten.add(at, 600, x, skew, speed)
	if done {
		g.ten(t, at, mean, s, v)
		mean += t.Normal
	}
	return mean, done
}

func (g *Gap) ten(t Tolerance, at int64, mean, skew, speed float64) {
	d := t.medium(speed, skew)
	g.Medium.Add(d, mean, at)
	g.Medium.Cap(2 * AlertNats)
	if t.Stated > 0 {
		whole := Tolerance{UD: t.Stated, Floor: t.Floor, Sigma: t.Sigma, Loud: t.Loud}.medium(speed, skew)
		g.Stated.Add(whole, mean+t.Normal, at)
		g.Stated.Cap(2 * AlertNats)
	}
	g.step(t, at, mean+t.Normal-t.Usual, skew, speed)
	slow := t.slow()
	middle := (slow.D0 + slow.D1) / 2
	g.High, g.Low, g.Seen = g.High<<1, g.Low<<1, g.Seen<<1|1
	if mean > middle {
		g.High |= 1
	}
	if mean < -middle {
		g.Low |= 1
	}
	if math.Abs(mean) <= d.D0+loudest*t.Loud.Ten {
		g.Within++
		if g.Within == 0 {
			g.Within--
		}
	} else {
		g.Within = 0
	}
	g.Last, g.LastAt, g.Allowed = mean, at, math.Max(d.D0, t.Stated)
}

// recentMemory is how long the last weeks are remembered, s.
const recentMemory = 20 * 86400.0

// step tests a gap, less what its baseline says, against the last weeks where it
// can change less in weeks than in a year. They are not renewed while the test
// says something.
func (g *Gap) step(t Tolerance, at int64, x, skew, speed float64) {
	if t.Weeks == 0 {
		g.Step, g.Recent, g.RecentAt = sequential.Cusum{}, 0, 0
		return
	}
	within := Tolerance{UD: t.Weeks, Stated: t.Weeks, Floor: t.Floor, Sigma: t.Sigma, Loud: t.Loud}.medium(speed, skew)
	g.Step.Add(within, x-g.Recent, at)
	g.Step.Cap(2 * AlertNats)
	if nats, _, _ := g.Step.Max(); nats == 0 && g.RecentAt != 0 {
		g.Recent += (x - g.Recent) * -math.Expm1(-float64(min(at-g.RecentAt, 3600))/recentMemory)
	}
	g.RecentAt = at
}

// plain counts the minutes in a row in which the gap is far outside what is
// allowed, and remembers when such a gap went away by itself.
func (g *Gap) plain(at int64, x float64, t Tolerance, movement float64) {
	limit := math.Max(plainLeast, 1.5*t.UD+plainMore) + t.Floor + movement
	if math.Abs(x) <= limit || g.Plain > 0 && x*g.PlainSign < 0 {
		if g.Plain >= 3 && at-g.PlainSince < burstLongest {
			g.burst(at)
		}
		g.Plain = 0
		return
	}
	if g.Plain == 0 {
		g.PlainSince, g.PlainSign = at, math.Copysign(1, x)
	}
	g.Plain = satAdd(g.Plain)
}

// Evidence returns the largest sum with its sign and the onset it gives.
func (g *Gap) Evidence() (nats, sign float64, onset int64) {
	nats, sign, onset = g.changed()
	for _, c := range [...]*sequential.Cusum{&g.Stated, &g.Step} {
		if n, s, o := c.Max(); n > nats {
			nats, sign, onset = n, s, o
		}
	}
	if n := g.Jump.nats(); n > nats {
		nats, sign, onset = n, math.Copysign(1, g.Jump.Size), g.Jump.Since
	}
	return nats, sign, onset
}

// changed is Evidence of the three rates.
func (g *Gap) changed() (nats, sign float64, onset int64) {
	nats, sign, onset = g.Medium.Max()
	for _, c := range [...]*sequential.Cusum{&g.Slow, &g.Fast} {
		if n, s, o := c.Max(); n > nats {
			nats, sign, onset = n, s, o
		}
	}
	return nats, sign, onset
}

// Watched reports whether the gap deserves to be shown.
func (g *Gap) Watched(at int64) bool {
	m, _, _ := g.Medium.Max()
	s, _, _ := g.Slow.Max()
	f, _, _ := g.Fast.Max()
	w, _, _ := g.Stated.Max()
	c, _, _ := g.Step.Max()
	return m >= WatchNats || s >= WatchNats || w >= WatchNats || c >= WatchNats || f >= AlertNats || g.Jump.Shown() || g.IsGross(at)
}

// Confirmed reports whether the gap is an alert: at once when it is gross,
// otherwise after three hours of agreeing blocks.
func (g *Gap) Confirmed(at int64) bool {
	return g.IsGross(at) || g.Settled(at)
}

// Settled reports whether the gap has stayed long enough to be an alert, however
// large it is.
func (g *Gap) Settled(at int64) bool {
	if g.Jump.Confirmed() {
		return true
	}
	for _, c := range [...]*sequential.Cusum{&g.Stated, &g.Step} {
		if nats, _, onset := c.Max(); nats >= AlertNats && at-onset >= confirmBlocks*600 {
			return true
		}
	}
	nats, sign, onset := g.changed()
	if nats < AlertNats || at-onset < confirmBlocks*600 {
		return false
	}
	const mask = 1<<confirmBlocks - 1
	seen, beyond := bits.OnesCount32(g.Seen&mask), bits.OnesCount32(g.High&mask)
	if sign < 0 {
		beyond = bits.OnesCount32(g.Low & mask)
	}
	return seen >= confirmBlocks && float64(beyond) >= confirmShare*float64(seen)
}

// Gone reports whether the gap has been within its tolerance for a day.
func (g *Gap) Gone() bool {
	nats, _, _ := g.Evidence()
	return nats < AlertNats/4 && g.Within >= clearBlocks
}

// Reset forgets the evidence, after maintenance or a new baseline.
func (g *Gap) Reset() {
	*g = Gap{BurstAt: g.BurstAt, Bursts: g.Bursts, BurstSign: g.BurstSign, Wild: g.Wild, WildAt: g.WildAt}
}

// Doubt takes back the sums that an instrument made that has turned out to be
// noisy. What was learned stays.
func (g *Gap) Doubt() {
	g.Fast, g.Medium, g.Slow, g.Stated, g.Step = sequential.Cusum{}, sequential.Cusum{}, sequential.Cusum{}, sequential.Cusum{}, sequential.Cusum{}
	g.High, g.Low, g.Seen, g.Gross, g.Plain, g.Prompt = 0, 0, 0, 0, 0, Prompt{}
	g.Jump.Size, g.Jump.There, g.Jump.Seen = 0, 0, 0
}
