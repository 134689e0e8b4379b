package symptom_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// feed gives a gap one value a minute.
func feed(g *symptom.Gap, t symptom.Tolerance, minutes int, from int64, gap func(minute int) float64) (at int64) {
	for i := range minutes {
		at = from + int64(i)*60
		g.Add(t, at, gap(i), 0, 0)
	}
	return at
}

// A shift of 20 mm is a watch within the hour and an alert after the three
// hours of confirmation, not before; a gross gap needs no confirmation.
func TestGapTiers(t *testing.T) {
	tol := symptom.Tolerance{UD: 4, Sigma: 1}
	rng := rand.New(rand.NewPCG(1, 1))
	rows := []struct {
		name         string
		shift        float64
		watch, alert int // minutes, latest
		notBefore    int // minutes, alert
	}{{"20 mm", 20, 60, 200, 180}, {"12 mm", 12, 120, 260, 180}, {"150 mm", 150, 5, 5, 1}, {"-150 mm", -150, 5, 5, 1}}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			var g symptom.Gap
			start := feed(&g, tol, 600, 1e9, func(int) float64 { return rng.NormFloat64() }) + 60
			watch, alert := -1, -1
			for i := range 400 {
				at := start + int64(i)*60
				g.Add(tol, at, r.shift+rng.NormFloat64(), 0, 0)
				if watch < 0 && g.Watched(at) {
					watch = i
				}
				if alert < 0 && g.Confirmed(at) {
					alert = i
				}
			}
			if watch < 0 || watch > r.watch || alert < r.notBefore || alert > r.alert {
				t.Errorf("watch after %d min, alert after %d min", watch, alert)
			}
		})
	}
}

// Single wild values, of any size and up to once every four minutes, never
// reach the sums.
func TestGapIgnoresSingleEchoes(t *testing.T) {
	var g symptom.Gap
	tol := symptom.Tolerance{UD: 4, Sigma: 1}
	at := feed(&g, tol, 3000, 1e9, func(i int) float64 {
		if i%4 == 3 {
			return 800
		}
		return 0
	})
	if nats, _, _ := g.Evidence(); nats > 0 || g.Watched(at) {
		t.Errorf("%.2f nats from single echoes", nats)
	}
}

// Corrupt values that came in a burst come again: the next ones are told only
// where they last longer than bursts do. After weeks without any that is
// forgotten.
func TestCorruptBurstsComeAgain(t *testing.T) {
	tol := symptom.Tolerance{UD: 4, Sigma: 1}
	var g symptom.Gap
	gross := func(at int64, minutes int) (told bool) {
		for i := range minutes {
			g.Add(tol, at+int64(i)*60, 1500, 0, 0)
			told = told || g.IsGross(at+int64(i)*60)
		}
		return told
	}
	rest := func(at int64, days float64) int64 {
		return feed(&g, tol, int(days*1440), at, func(int) float64 { return 0 }) + 60
	}
	at := rest(1e9, 1)
	if !gross(at, 6) {
		t.Error("the first burst is not told")
	}
	at = rest(at+6*60, 3)
	if gross(at, 6) {
		t.Error("a burst of six minutes three days after another is told")
	}
	at = rest(at+6*60, 3)
	if !gross(at, 15) {
		t.Error("a gap of a quarter of an hour is not told")
	}
	at = rest(at+15*60, 60)
	if !gross(at, 6) {
		t.Error("two months later a burst is not told")
	}
}

// Who states himself what a gap may be waits until it has outlasted a burst.
func TestStatedLimitWaitsForABurst(t *testing.T) {
	for _, c := range []struct {
		limit   bool
		minutes int
		told    bool
	}{{false, 6, true}, {true, 6, false}, {true, 9, false}, {true, 15, true}} {
		tol, told := symptom.Tolerance{UD: 160, Limit: c.limit}, false
		var g symptom.Gap
		at := feed(&g, tol, 1440, 1e9, func(int) float64 { return 0 }) + 60
		for i := range int64(c.minutes) {
			g.Add(tol, at+i*60, 1500, 0, 0)
			told = told || g.IsGross(at+i*60) || g.Lasts(4)
		}
		if told != c.told {
			t.Errorf("%d minutes, limit stated %t: told %t", c.minutes, c.limit, told)
		}
	}
}

// A hole of six hours adds no evidence, and a gap within its tolerance takes
// evidence away.
func TestGapHoleAddsNothing(t *testing.T) {
	tol := symptom.Tolerance{UD: 4, Sigma: 1}
	var whole, holed symptom.Gap
	at := feed(&whole, tol, 90, 999_999_600, func(int) float64 { return 14 })
	feed(&holed, tol, 90, 999_999_600, func(int) float64 { return 14 })
	a, _, _ := whole.Evidence()
	feed(&holed, tol, 3, at+6*3600, func(int) float64 { return 14 })
	if b, _, _ := holed.Evidence(); b > a+3 {
		t.Errorf("%.2f nats before, %.2f after a hole", a, b)
	}
	feed(&whole, tol, 600, at+60, func(int) float64 { return 0 })
	if c, _, _ := whole.Evidence(); c >= a {
		t.Errorf("%.2f nats before, %.2f after ten healthy hours", a, c)
	}
}

// Values no instrument gives neither alert in fewer blocks than the clip
// allows nor poison the sums.
func TestGapSurvivesNonsense(t *testing.T) {
	for _, x := range []float64{1e9, -1e9, math.Inf(1), math.NaN()} {
		var g symptom.Gap
		tol := symptom.Tolerance{UD: 4}
		feed(&g, tol, 3, 1e9, func(int) float64 { return x })
		if g.Confirmed(1e9 + 180) {
			t.Errorf("%g alerted after three minutes", x)
		}
		at := feed(&g, tol, 3000, 1e9+240, func(int) float64 { return 0 })
		if nats, _, _ := g.Evidence(); math.IsNaN(nats) || g.Watched(at) {
			t.Errorf("after %g the sums hold %g", x, nats)
		}
	}
}

// Counting moves: a level that rests makes none, a subject that follows late
// is not still, one that does not follow is, and a hole in the data adds no
// move.
func TestFollow(t *testing.T) {
	run := func(minutes int, witness, subject func(m float64) float64, hole int) symptom.Follow {
		var f symptom.Follow
		for i := range minutes {
			if hole > 0 && i >= hole && i < hole+360 {
				f.Break()
				continue
			}
			f.Add(int64(1e9+60*i), witness(float64(i)), subject(float64(i)), symptom.Sight{Size: 20})
		}
		return f
	}
	wave := func(m float64) float64 { return 500 + 120*math.Sin(m/40) }
	if f := run(2000, func(float64) float64 { return 500 }, wave, 0); f.Still+f.Followed != 0 {
		t.Errorf("a resting witness made moves: %+v", f)
	}
	if f := run(2000, wave, wave, 0); f.Still != 0 || f.Followed < 50 {
		t.Errorf("a faithful subject: %+v", f)
	}
	if f := run(2000, wave, func(m float64) float64 { return wave(m - 2) }, 0); f.Still != 0 {
		t.Errorf("a subject two minutes late: %+v", f)
	}
	f := run(2000, wave, func(float64) float64 { return 500 }, 0)
	if f.Followed != 0 || f.Still < 50 || f.Over < 100 || f.Under < 100 {
		t.Errorf("a still subject: %+v", f)
	}
	before := run(700, wave, func(float64) float64 { return 500 }, 0)
	after := run(1061, wave, func(float64) float64 { return 500 }, 700)
	if after.Still > before.Still+1 {
		t.Errorf("a hole of six hours made moves: %d, then %d", before.Still, after.Still)
	}
}

// A switch that trips later both ways than it did has a differential that
// grew; one that moved as a whole has not. Evidence loses half its weight in
// thirty days without a test.
func TestPointWidened(t *testing.T) {
	trip := symptom.Trip{Elevation: 500, Differential: 10, U: 2, ByFloat: true}
	run := func(up, down float64, waves int) (p symptom.Point) {
		at, wet := int64(1e9), false
		for wave := range 20 + waves {
			for m := range 240 {
				x := 500 + 100*math.Sin(float64(m)/240*2*math.Pi)
				high, low := 505.0, 495.0
				if wave >= 20 {
					high, low = high+up, low+down
				}
				wet = x > high || wet && x >= low
				state := gauge.Dry
				if wet {
					state = gauge.Wet
				}
				p.Add(&trip, at, state, x, true, false)
				at += 60
			}
		}
		return p
	}
	if p := run(0, 0, 40); p.Wider > 0 {
		t.Errorf("sound: %.1f nats", p.Wider)
	}
	if p := run(8, 8, 40); p.Wider >= symptom.AlertNats {
		t.Errorf("shifted as a whole: %.1f nats", p.Wider)
	}
	p := run(5, -5, 20)
	if p.Wider < symptom.AlertNats || math.Abs(p.Widened()-10) > 3 {
		t.Errorf("differential doubled: %.1f nats, %.1f mm", p.Wider, p.Widened())
	}
	before := p.Wider
	for i, x := range [...]float64{300, 400, 700, 700} { // a month later the level passes once and nothing answers
		p.Add(&trip, p.Fresh+30*86400+int64(600*i), p.State, x, true, false)
	}
	if p.Wider > 0.6*before {
		t.Errorf("after a month without a test %.1f of %.1f nats are left", p.Wider, before)
	}
}

// A switch that does not answer is missed once per crossing, an answer clears
// the count, and both directions are calibrated apart.
func TestPointCrossings(t *testing.T) {
	trip := symptom.Trip{Elevation: 500, Differential: 10, U: 2, ByFloat: true}
	var p symptom.Point
	at := int64(1e9)
	pass := func(dead bool, shift float64) {
		wet := p.State == gauge.Wet
		for m := range 240 {
			x := 500 + 100*math.Sin(float64(m)/240*2*math.Pi)
			if !dead {
				if x > 505+shift {
					wet = true
				} else if x < 495+shift {
					wet = false
				}
			}
			state := gauge.Dry
			if wet {
				state = gauge.Wet
			}
			p.Add(&trip, at, state, x, true, false)
			at += 60
		}
	}
	for range 6 {
		pass(false, 0)
	}
	if p.Misses != 0 || p.Acts[0] < 5 || p.Acts[1] < 5 {
		t.Fatalf("healthy: %d misses, %v actuations", p.Misses, p.Acts)
	}
	pass(true, 0)
	pass(true, 0)
	if p.Misses < 2 || p.MissNats < 13 {
		t.Errorf("dead for two waves: %d misses, %.1f nats", p.Misses, p.MissNats)
	}
	pass(false, 0)
	if p.Misses != 0 {
		t.Errorf("alive again: %d misses", p.Misses)
	}
	n := 0
	for ; n < 6; n++ {
		pass(false, 15)
		if up, _, _ := p.Cusum[symptom.Rising].Max(); up >= symptom.AlertNats {
			break
		}
	}
	if n >= 5 {
		t.Errorf("a shift of 15 mm was not found in five actuations: %+v", p.Cusum)
	}
}

// A baseline is learned, but not one the data sheet does not allow.
func TestBaseline(t *testing.T) {
	learn := func(offset float64) symptom.Baseline {
		var b symptom.Baseline
		rng := rand.New(rand.NewPCG(4, 4))
		for i := range 15 * 144 {
			level := math.Sin(float64(i) / 50)
			b.Add(int64(1e9+600*i), offset+2*level+rng.NormFloat64(), level, 10, &symptom.Varying{})
		}
		return b
	}
	if b := learn(-6); !b.Known || math.Abs(b.Offset+6) > .2 || math.Abs(b.Slope-2) > .2 || math.Abs(b.Sigma-1) > .1 {
		t.Errorf("learned %+v", b)
	}
	if b := learn(25); b.Known || !b.Beyond || b.Normal(0) != 0 {
		t.Errorf("a gap beyond the budget was taken for normal: %+v", b)
	}
}

// Skew and friction are told apart when the level moves at different speeds,
// and neither is seen in a level that rests.
func TestSignature(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 2))
	run := func(skew, friction float64, level func(m float64) float64) symptom.Signature {
		var s symptom.Signature
		s.Largest, s.Clip = 600, 40
		second := level(0) // stays behind by the friction
		for i := range 3 * 1440 {
			m := float64(i)
			l := level(m)
			second = math.Max(l-friction, math.Min(l+friction, second))
			v := (level(m+1) - level(m-1)) / 120
			s.Add(int64(1e9+60*i), skew*v+l-second+rng.NormFloat64(), l, 500, 0)
		}
		return s
	}
	wave := func(m float64) float64 { return 500 + 150*math.Sin(m/90) + 60*math.Sin(m/23) }
	if s := run(60, 0, wave); math.Abs(s.Skew-60) > 6 || math.Abs(s.Friction) > 1 {
		t.Errorf("skew 60 s: found %.1f ± %.1f s and %.1f mm", s.Skew, s.SkewU, s.Friction)
	}
	if s := run(0, 6, wave); math.Abs(s.Friction-6) > 1.5 || s.Rubbed == 0 || s.Skewed > 0 {
		t.Errorf("friction 6 mm: found %.1f ± %.1f mm %d times, and a skew of %.1f s %d times", s.Friction, s.FrictionU, s.Rubbed, s.Skew, s.Skewed)
	}
	if s := run(0, 1.2, wave); s.Rubbed > 0 || s.Skewed > 0 {
		t.Errorf("a sound follower's play: friction %.1f ± %.1f mm, skew %.1f ± %.1f s", s.Friction, s.FrictionU, s.Skew, s.SkewU)
	}
	if s := run(60, 6, func(float64) float64 { return 500 }); s.HasSkew || s.HasRub {
		t.Errorf("a resting level: %+v", s)
	}
}

// A leg that goes with the season by 4 mm over a quarter is followed within the
// lag of its memory, rate times twenty days, and says nothing; a shift of 10 mm
// on top, less than the year allows, is an alert after the three hours of
// confirmation. Without the last weeks as a reference it is none.
func TestGapAgainstTheLastWeeks(t *testing.T) {
	const season, days, shift = 4.0, 90, 10.0
	rng := rand.New(rand.NewPCG(3, 3))
	weeks := symptom.Tolerance{UD: 12, Weeks: 4, Sigma: 1}
	var g, whole symptom.Gap
	for i := range days * 144 {
		at := 1e9 + int64(i)*600
		for minute := range int64(3) { // three minutes of each ten are enough for their median
			x := season*float64(i)/(days*144) + rng.NormFloat64()
			g.Add(weeks, at+60*minute, x, 0, 0)
		}
		if g.Watched(at) {
			t.Fatalf("the season is watched after %d days", i/144)
		}
	}
	const rate, memory = season / days, 20.0
	lag := rate * memory * (1 - math.Exp(-days/memory))
	if behind := season - g.Recent; math.Abs(behind-lag) > 0.3 { // noise of 1 mm, averaged over weeks
		t.Errorf("the last weeks are %.2f mm behind, want %.2f", behind, lag)
	}
	start, alert := int64(1e9+days*86400), -1
	for minute := range 480 {
		at := start + int64(minute)*60
		x := season + shift + rng.NormFloat64()
		g.Add(weeks, at, x, 0, 0)
		if alert < 0 && g.Confirmed(at) {
			alert = minute
		}
	}
	if alert < 180 || alert > 260 {
		t.Errorf("alert after %d minutes", alert)
	}
	total := weeks
	total.Weeks = 0
	feed(&whole, total, 480, start, func(int) float64 { return shift + rng.NormFloat64() })
	if whole.Confirmed(start + 480*60) {
		t.Error("10 mm of 12 allowed are an alert")
	}
}

// With a baseline the middle between what is allowed and what is looked for is
// two millimetres beyond the former, without one three and a half: of 8 mm where
// 5 are allowed, only the change alerts.
func TestABaselineFindsLess(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	shift := func(int) float64 { return 8 + rng.NormFloat64() }
	var change, whole symptom.Gap
	at := feed(&change, symptom.Tolerance{UD: 5, Stated: 12, Sigma: 1}, 600, 1e9, shift)
	feed(&whole, symptom.Tolerance{UD: 5, Sigma: 1}, 600, 1e9, shift)
	if !change.Confirmed(at) || whole.Confirmed(at) {
		t.Errorf("alerts: change %v, whole %v", change.Confirmed(at), whole.Confirmed(at))
	}
}
