package symptom_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/symptom"
)

// delayed folds days of a pair whose second reading comes late by so many
// seconds, on a level that wanders by 25 mm with half an hour of memory, and
// returns how many hours passed until a delay stood out three times in a row,
// -1: never.
func delayed(s *symptom.Signature, rng *rand.Rand, at *int64, days int, late float64) (hours float64) {
	const sd, memory = 25.0, 1800.0
	keep := math.Exp(-60 / memory)
	push, x, before, began := 0.0, 0.0, 0.0, *at
	for range days * 1440 {
		push = keep*push + sd*math.Sqrt(1-keep*keep)*rng.NormFloat64()
		before, x = x, x+(push-x)/6
		gap := (x-before)/60*late + 1.5*rng.NormFloat64()
		s.Largest, s.Clip = 600, 40
		s.Add(*at, gap, 500+x, 500, 0)
		*at += 60
		if s.Skewed >= 3 {
			return float64(*at-began) / 3600
		}
	}
	return -1
}

// A long delay stands out within a day though it is remembered for days that
// there was none; what was usual is known at once after a new baseline, so
// that a delay that comes then is not taken for usual.
func TestDelayIsFoundFastAndNotLearned(t *testing.T) {
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 11))
		s, at := symptom.Signature{}, int64(1e9)
		if h := delayed(&s, rng, &at, 14, 0); h >= 0 {
			t.Fatalf("seed %d: a delay where there is none, after %.0f h", seed, h)
		}
		s.Rebase()
		if h := delayed(&s, rng, &at, 1, 0); h >= 0 || !s.UsualKnown || math.Abs(s.UsualSkew) > 8 {
			t.Fatalf("seed %d: usual delay %.1f s (%t) a day after the new baseline", seed, s.UsualSkew, s.UsualKnown)
		}
		if h := delayed(&s, rng, &at, 3, 90); h < 0 || h > 24 {
			t.Errorf("seed %d: a delay of 90 s found after %.1f h", seed, h)
		}
	}
}

// Wild echoes now and then are no friction.
func TestWildEchoesAreNoFriction(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	var l symptom.Late
	for i := range 2 * 1440 {
		x := 120 * math.Sin(2*math.Pi*float64(i)/400)
		echo := x
		if into := (i + 100) % 400; into == 36 || into == 236 {
			echo += 70
		}
		l.Add(int64(1e9)+int64(i)*60, x-echo+rng.NormFloat64(), 500+echo, 0, 13)
	}
	if _, behind := l.Solve(0); math.Abs(behind.Value) > 1 || behind.U > 0.5 {
		t.Errorf("behind by %.2f ± %.2f mm", behind.Value, behind.U)
	}
}

// Foam that lifts the echo over a level at rest is no movement the float is late
// for or stays behind in; a float that is held back in a level that moves stands
// out all the same.
func TestFoamAtRestIsNoDelay(t *testing.T) {
	run := func(both, rubs bool) (rubbed, skewed uint8) {
		rng := rand.New(rand.NewPCG(7, 1))
		s, float, x, push, foam := symptom.Signature{Largest: 600, Clip: 40, UsualKnown: true}, 0.0, 0.0, 0.0, 0.0
		s.Late.Both = both
		for i := range 12 * 1440 {
			push += -push/30 + 25*math.Sqrt(2.0/30)*rng.NormFloat64()
			if i < 8*1440 || rubs {
				x += (push - x) / 6
				foam = 0
			} else {
				height := 0.0
				if i%120 < 25 {
					height = 14
				}
				foam += (height - foam) / 4
			}
			play := 0.5
			if rubs {
				play = 7.5
			}
			float = math.Max(x-play, math.Min(x+play, float))
			level := x + foam
			s.Add(int64(1e9)+int64(i)*60, float-level+rng.NormFloat64(), 500+level, 500, 0)
			rubbed, skewed = max(rubbed, s.Rubbed), max(skewed, s.Skewed)
		}
		return rubbed, skewed
	}
	if _, n := run(false, false); n < 3 {
		t.Fatalf("the foam shows no delay where every movement counts: %d", n)
	}
	if rubbed, skewed := run(true, false); rubbed+skewed > 0 {
		t.Errorf("foam over a level at rest is taken for friction or delay, %d and %d times in a row", rubbed, skewed)
	}
	if _, n := run(true, true); n < 24 {
		t.Errorf("a float that is held back in a level that moves stands out %d times in a row", n)
	}
}
