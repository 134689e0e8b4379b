package shape_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

const onsetAt = 144 // mark, the middle of 288

// marks makes 288 ten-minute marks of float, transmitter and vessel at rest,
// each scattering by its own standard deviation, mm; change adds an error.
func marks(sigma [3]float64, change func(mark int) (float, transmitter, vessel float64)) *shape.Problem {
	rng := rand.New(rand.NewPCG(7, 11))
	p := &shape.Problem{Top: 1000, PerMark: 1.0 / 6, Step: 600, Onset: 1e9 + onsetAt*600, Channels: []symptom.Channel{f, t, v}}
	for i := range 288 {
		m := symptom.Mark{At: 1e9 + int64(i)*600, Ratio: float32(math.NaN())}
		m.Level[s] = float32(math.NaN())
		var e [3]float64
		if change != nil {
			e[0], e[1], e[2] = change(i)
		}
		for k, c := range p.Channels {
			m.Level[c] = float32(500 + e[k] + sigma[k]*rng.NormFloat64())
		}
		p.Marks = append(p.Marks, m)
	}
	for _, c := range p.Channels {
		p.Sigma[c] = 2.5
	}
	return p
}

// after is an error from the onset on.
func after(mark int, mm float64) float64 {
	if mark < onsetAt {
		return 0
	}
	return mm
}

// The gap of two channels of standard deviations a and b goes from mark to mark
// by √2·√(a²+b²), so a channel's own spread is bounded by √(a²+b²) with its
// quietest partner. The median of 143 steps has a standard error of some 12 %
// of that: half of it again is room enough.
func TestASpreadIsWidenedToWhatItAlwaysWas(tt *testing.T) {
	p := marks([3]float64{8, 1, 2}, nil)
	p.Solve()
	for _, r := range []struct {
		channel symptom.Channel
		want    float64
	}{{f, math.Hypot(8, 1)}, {t, 2.5}, {v, 2.5}} { // the quiet ones keep theirs: √(1²+2²) is less
		if got := p.Sigma[r.channel]; math.Abs(got-r.want) > 0.18*r.want {
			tt.Errorf("%v: spread %.2f mm, want %.2f", r.channel, got, r.want)
		}
	}
	p = marks([3]float64{1, 1, 1}, func(i int) (float64, float64, float64) {
		return after(i, 40*float64(i%2)), 0, 0
	})
	p.Solve()
	if got := p.Sigma[f]; got != 2.5 {
		tt.Errorf("what began with the error widens the spread to %.2f mm", got)
	}
	p = marks([3]float64{8, 1, 2}, nil)
	p.Marks = p.Marks[onsetAt-20:] // 19 steps before the onset show nothing yet
	p.Solve()
	if got := p.Sigma[f]; got != 2.5 {
		tt.Errorf("twenty marks widen the spread to %.2f mm", got)
	}
}

// A density that was off before the onset belongs to none of the errors that
// began at it: it is found from the marks before, with its prior of one
// standard uncertainty, and taken out of all.
func TestADensityThatWasOffIsNoPartOfTheError(tt *testing.T) {
	const off, zero = -2.0, 15.0 // standard uncertainties of 3 mm each on the float
	dense := func(off float64) *shape.Problem {
		p := marks([3]float64{1, 1, 1}, func(i int) (float64, float64, float64) { return 3 * off, after(i, zero), 0 })
		for i := range p.Marks {
			p.Marks[i].Density[f] = 3
		}
		return p
	}
	without, with := dense(0).Solve(), dense(off)
	got := with.Solve()
	// What one density explains of n marks: with equal weights w the float is
	// 2/3 of its 3 mm from the mean, the others 1/3, together 6 mm² a mark. The
	// spread of the float holds the share of the density that comes and goes.
	w := 1 / (2.5 * 2.5)
	wf := 1 / (2.5*2.5 + 1.2*1.2) // 0.4 of 3 mm
	mean := 3 * wf / (wf + 2*w)
	information := onsetAt * (wf*(3-mean)*(3-mean) + 2*w*mean*mean) / 6
	left := 1 / (1 + information) // share of it the prior hides
	if size := got.Fits[t][shape.Constant].Size; math.Abs(size-zero) > 3*left+3*math.Sqrt(1.5/onsetAt) {
		tt.Errorf("the transmitter is off by %.2f mm beside a density, want %.0f", size, zero)
	}
	// Two standard uncertainties cost ½·2² nats by their prior at most, on top
	// of what is left of six millimetres.
	if lost := without.Fits[t][shape.Constant].Nats - got.Fits[t][shape.Constant].Nats; lost > 0.5*off*off {
		tt.Errorf("the density that was off costs the true form %.2f nats", lost)
	}
	if lead := got.Fits[t][shape.Constant].Nats - got.Fits[f][shape.Constant].Nats; lead < 10 {
		tt.Errorf("the float, off by its density, is only %.1f nats behind the transmitter", lead)
	}
}

// A float that lies at the bottom stands away from the level even where the
// level rests, which a reading that stands still does not show.
func TestGoneIsAwayFromTheLevel(tt *testing.T) {
	fit := func(away func(mark int) float64, form shape.Form) shape.Fit {
		p := marks([3]float64{0.2, 1, 1}, func(i int) (float64, float64, float64) { return after(i, away(i)), 0, 0 })
		sol := p.Solve()
		return sol.Fits[f][form]
	}
	always := func(mm float64) func(int) float64 { return func(int) float64 { return mm } }
	gone := fit(always(-440), shape.Gone)
	if math.Abs(gone.Size-60) > 0.5 || gone.Onset != 1e9+onsetAt*600 {
		tt.Errorf("a float at 60 mm is said to lie at %.1f mm since mark %d", gone.Size, (gone.Onset-1e9)/600)
	}
	// Each of the 144 marks saves ln(s/2 mm), s = √(2.5²+2.5²/2) being the spread
	// of a float against two others and 2 mm that of what stands still, less
	// their scatter; two parameters cost ln(288/6).
	s := 2.5 * math.Sqrt(1.5)
	want := onsetAt/6*(math.Log(s/2)-0.5*(0.2*0.2/4)) - math.Log(288.0/6)
	scatter := 0.5 * (onsetAt*(1.0*1.0/(2.5*2.5)) + onsetAt*(1+0.04)/(2.5*2.5)) / 6 * 2 // of the healthy half and of the others, generously
	if gone.Nats > want || gone.Nats < want-scatter-1 {
		tt.Errorf("it scores %.2f nats, want %.2f to %.2f", gone.Nats, want-scatter-1, want)
	}
	if still := fit(always(-440), shape.Still); still.Nats > gone.Nats-100 {
		tt.Errorf("a level at rest shows a float standing still: %.1f nats beside %.1f", still.Nats, gone.Nats)
	}
	if near := fit(always(-20), shape.Gone); !math.IsInf(near.Nats, -1) {
		tt.Errorf("20 mm is no distance, but scores %.1f", near.Nats)
	}
	half := func(i int) float64 { return -440 * float64(i%2) }
	if some := fit(half, shape.Gone); !math.IsInf(some.Nats, -1) {
		tt.Errorf("away half of the time is not gone, but scores %.1f", some.Nats)
	}
}

// Strained begins where the squares that are left are three times what they
// should be: noise of √3 of its stated spread leaves -1.5 nats a degree of
// freedom, and six more are granted. The edge is at 3 + 12/(2·48) = 3.13 times
// the squares without any form; the slack of a float that moves in jumps takes
// some of the noise of one channel, so that twice the edge is surely beyond.
func TestStrainedIsThreeTimesTheSquares(tt *testing.T) {
	noise := func(times float64) *shape.Problem {
		sd := 2.5 * math.Sqrt(times)
		p := marks([3]float64{sd, sd, sd}, nil)
		p.Onset = p.Marks[0].At // nothing before it: no spread is widened
		return p
	}
	for times, want := range map[float64]bool{1: false, 2.4: false, 6.3: true} {
		sol := noise(times).Solve()
		if sol.Strained() != want {
			tt.Errorf("%.1f times the squares: best %.1f nats, strained %v", times, sol.Best(), !want)
		}
	}
	sol := marks([3]float64{1, 1, 1}, func(i int) (float64, float64, float64) { return 0, after(i, 25), 0 }).Solve()
	if sol.Strained() {
		tt.Errorf("one regular error is strained: best %.1f nats", sol.Best())
	}
	sol = marks([3]float64{1, 1, 1}, func(i int) (float64, float64, float64) {
		return after(i, 30*math.Sin(float64(i)/5)), after(i, 30*math.Cos(float64(i)/7)), 0
	}).Solve()
	if !sol.Strained() {
		tt.Errorf("two irregular errors at once are not strained: best %.1f nats", sol.Best())
	}
}
