package symptom_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/symptom"
)

// well is a record of a stilling well: a tide, one day in five a seiche, a radar on
// the open water that waves shake, and a float behind an inlet.
type well struct {
	tide, seiche, noise float64 // mm: amplitudes and standard deviation of a radar reading
	period, swing       float64 // s, of tide and seiche
	inlet               float64 // s the well is behind a slow level
	rub                 float64 // mm, half the dead band of the float
	allows              float64 // mm the user states
}

// run returns the signature after so many days and what it said at most.
func (w well) run(days int) (s symptom.Signature, skewed, rubbed uint8) {
	rng := rand.New(rand.NewPCG(3, 9))
	s = symptom.Signature{Largest: 600, Clip: 40, Allows: w.allows}
	inside, float := 2000.0, 2000.0
	for i := range days * 1440 {
		at := float64(i) * 60
		x := 2000 + w.tide*math.Sin(2*math.Pi*at/w.period)
		if d := math.Mod(at/86400, 5); d > 3 && d < 4 {
			x += w.seiche * math.Sin(2*math.Pi*at/w.swing) * math.Sin(math.Pi*(d-3))
		}
		inside += (x - inside) * -math.Expm1(-60/w.inlet)
		float = math.Max(inside-w.rub, math.Min(inside+w.rub, float))
		radar := math.Round(x + w.noise*rng.NormFloat64())
		s.Add(int64(1e9)+int64(at), math.Round(float+0.7*rng.NormFloat64())-radar, radar, 2500, 0)
		skewed, rubbed = max(skewed, s.Skewed), max(rubbed, s.Rubbed)
	}
	return s, skewed, rubbed
}

// A well is behind by an inlet of minutes, by another amount in each swing, and
// waves shake the radar: neither is friction or a wrong clock. Friction of
// centimetres and a clock a quarter of an hour off are told all the same.
func TestAWellIsNoFriction(t *testing.T) {
	for _, w := range []well{
		{tide: 750, period: 86400, inlet: 300, noise: 4, seiche: 100, swing: 900, allows: 160},
		{tide: 2000, period: 86400, inlet: 1, noise: 8, allows: 160},
		{tide: 750, period: 86400, inlet: 300, noise: 2, seiche: 100, swing: 480, allows: 160},
		{tide: 750, period: 86400, inlet: 240, noise: 2, seiche: 100, swing: 2700, allows: 160},
		{tide: 100, period: 44700, inlet: 120, noise: 1, seiche: 100, swing: 3600, allows: 160},
	} {
		if s, skewed, rubbed := w.run(30); skewed >= 3 || rubbed >= 3 {
			t.Errorf("%+v: a delay of %.0f s in %d, friction of %.1f mm in %d solutions in a row", w, s.Skew, skewed, s.Friction, rubbed)
		}
	}
	stiff := well{tide: 750, period: 44700, inlet: 60, noise: 1.5, seiche: 100, swing: 3600, rub: 15, allows: 160}
	if s, _, rubbed := stiff.run(30); rubbed < 3 {
		t.Errorf("%+v: friction of %.1f ± %.1f mm is not told", stiff, s.Friction, s.FrictionU)
	}
	late := well{tide: 2000, period: 44700, inlet: 900, noise: 1.5, allows: 160}
	if s, skewed, _ := late.run(30); skewed < 3 && math.Abs(s.UsualSkew) < 500 {
		t.Errorf("%+v: a delay of %.0f ± %.0f s is not told", late, s.Skew, s.SkewU)
	}
}

// The delay of a well that hardly moved while it was to be learned is learned with its
// uncertainty once the level moves. Where the user allows for no gap a delay that
// shows then is one.
func TestDelayIsLearnedOnceItShows(t *testing.T) {
	run := func(allows float64) (s symptom.Signature, skewed uint8) {
		rng := rand.New(rand.NewPCG(4, 1))
		s = symptom.Signature{Largest: 600, Clip: 40, Allows: allows}
		inside := 2000.0
		for i := range 60 * 1440 {
			x := 2000 + 15*math.Sin(float64(i)/500) // too slow to tell a delay by
			if i > 40*1440 {
				x += 150 * math.Sin(float64(i)/20)
			}
			inside += (x - inside) * -math.Expm1(-60.0/120)
			s.Add(int64(1e9)+int64(i)*60, inside-x+rng.NormFloat64(), x, 2500, 0)
			skewed = max(skewed, s.Skewed)
		}
		return s, skewed
	}
	if s, skewed := run(160); skewed > 0 || s.UsualSkew > -30 || s.UsualU == 0 || s.Assumed {
		t.Errorf("a well: %.0f ± %.0f s learned (assumed: %t), told %d times", s.UsualSkew, s.UsualU, s.Assumed, skewed)
	}
	if s, skewed := run(0); skewed < 3 || s.UsualSkew != 0 {
		t.Errorf("a chamber: %.0f s learned, told %d times", s.UsualSkew, skewed)
	}
}
