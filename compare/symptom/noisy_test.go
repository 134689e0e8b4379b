package symptom_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/symptom"
)

// listener feeds one channel a reading a minute.
type listener struct {
	n   symptom.Noisy
	at  int64
	rng *rand.Rand
}

func newListener() *listener { return &listener{at: 1_700_000_000, rng: rand.New(rand.NewPCG(3, 4))} }

// hear feeds readings for some hours, each every seconds after the last.
func (l *listener) hear(hours float64, every int64, reading func(i int) float64) {
	for i := range int(hours * 3600 / float64(every)) {
		l.at += every
		var b symptom.Block
		b.At, b.Newest[0], b.Read[0] = l.at, reading(i), l.at
		l.n.Add(&b, 0, b.Newest[0]-500, true, 0)
	}
}

func (l *listener) noise(sd float64) func(int) float64 {
	return func(int) float64 { return 500 + sd*l.rng.NormFloat64() }
}

// Noise of a size is found within the hour by readings once a minute, and its
// size is told; it ends within the hour it is gone.
func TestNoisyFindsNoise(t *testing.T) {
	for _, every := range []int64{60, 120, 360} {
		l := newListener()
		l.hear(8*24, every, l.noise(1))
		if l.n.Since != 0 || !l.n.Known() || math.Abs(l.n.Usually()-1) > 1 {
			t.Fatalf("every %d s: since %d, usual %.2f mm, want none and about 1 mm with the resolution", every, l.n.Since, l.n.Usually())
		}
		onset, blocks := l.at, math.Max(600, 4*float64(every)+float64(every))/3600
		l.hear(7*blocks, every, l.noise(20))
		if l.n.Since == 0 || l.n.Since < onset-3600 {
			t.Errorf("every %d s: since %d, noise began at %d", every, l.n.Since, onset)
		}
		l.n.Quiet(l.at, true)
		l.hear(20*blocks, every, l.noise(20))
		if !l.n.Sure(3*3600) || math.Abs(l.n.Size-20) > 5 || math.Abs(l.n.Lift) > 8 {
			t.Errorf("every %d s: sure %t, size %.1f mm, lift %.1f mm, want 20 and 0", every, l.n.Sure(3*3600), l.n.Size, l.n.Lift)
		}
		if _, err := json.Marshal(&l.n); err != nil {
			t.Error(err)
		}
		l.hear(7*blocks, every, l.noise(1))
		if l.n.Since != 0 {
			t.Errorf("every %d s: it does not end", every)
		}
	}
}

// What goes one way, and what goes wild now and then, is no noise.
func TestNoisyIsNotMovement(t *testing.T) {
	for name, reading := range map[string]func(l *listener) func(i int) float64{
		"a batch, up and down": func(l *listener) func(int) float64 {
			return func(i int) float64 { return 500 + 12*math.Abs(float64(i%120-60)) + l.rng.NormFloat64() }
		},
		"jumps of a float that sticks": func(l *listener) func(int) float64 {
			return func(i int) float64 { return 500 + 30*math.Floor(math.Abs(float64(i%240-120))/3) }
		},
		"one wild reading in fifty": func(l *listener) func(int) float64 {
			return func(i int) float64 {
				if i%50 == 7 {
					return 1400
				}
				return 500 + l.rng.NormFloat64()
			}
		},
		"bursts of foam, twenty minutes in forty": func(l *listener) func(int) float64 {
			return func(i int) float64 {
				if i%40 < 20 {
					return 530 + 15*l.rng.NormFloat64()
				}
				return 500 + l.rng.NormFloat64()
			}
		},
	} {
		l := newListener()
		l.hear(8*24, 60, l.noise(1))
		l.hear(24, 60, reading(l))
		if l.n.Sure(3 * 3600) {
			t.Errorf("%s counts as noise of %.1f mm", name, l.n.Size)
		}
	}
}

// A level is a witness while it stays as it was; a wild reading now and then does
// not change that, unrest does.
func TestNoisyKeeps(t *testing.T) {
	l := newListener()
	l.hear(8*24, 60, l.noise(1))
	l.hear(3, 60, func(i int) float64 {
		if i%60 == 0 {
			return 2000
		}
		return 500 + l.rng.NormFloat64()
	})
	if !l.n.Judged(l.at) || !l.n.Keeps(25) {
		t.Errorf("judged %t, keeps %t beside 25 mm: %.1f mm now", l.n.Judged(l.at), l.n.Keeps(25), l.n.Now)
	}
	l.hear(3, 60, l.noise(12))
	if l.n.Keeps(25) {
		t.Errorf("12 mm beside 25 mm count as quiet, now %.1f mm", l.n.Now)
	}
	if l.n.Judged(l.at + 86400) {
		t.Error("a level without readings is judged")
	}
}

// The zero value of a state from before says nothing until it has learned.
func TestNoisyLearnsFirst(t *testing.T) {
	l := newListener()
	l.hear(48, 60, l.noise(25))
	if l.n.Since != 0 || l.n.Known() || l.n.Shakes() {
		t.Errorf("judged before three days: %+v", l.n)
	}
}
