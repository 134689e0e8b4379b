package compare_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
)

// Two faults in one afternoon are called two where a third level is sound, and
// one fault is never called two.
func TestTwoFaultsAtOnce(t *testing.T) {
	const onset = 30 * 3600.0
	later := func(mm float64) func(s, l float64) float64 {
		return func(s, l float64) float64 {
			if s > onset {
				return l + mm
			}
			return l
		}
	}
	held := wander(5)(onset)
	stuck := func(s, l float64) float64 {
		if s > onset {
			return held
		}
		return l
	}
	for _, r := range []struct {
		name string
		set  func(p *plant)
		both []cause.Suspect // nil: one fault
	}{
		{"follower and transmitter shifted", func(p *plant) { p.indicated, p.transmitter = later(30), later(-45) }, []cause.Suspect{cause.Follower, cause.Transmitter}},
		{"float stuck, transmitter shifted", func(p *plant) { p.float, p.transmitter = stuck, later(60) }, []cause.Suspect{cause.Float, cause.Transmitter}},
		{"transmitter shifted", func(p *plant) { p.transmitter = later(60) }, nil},
		{"float stuck", func(p *plant) { p.float = stuck }, nil},
		{"follower shifted", func(p *plant) { p.indicated = later(40) }, nil},
	} {
		t.Run(r.name, func(t *testing.T) {
			sheet := baseSheet()
			sheet.Vessel = &datasheet.Vessel{Tag: "LT-102", U: .002}
			p := newPlant(t, sheet, 5)
			r.set(p)
			p.run((onset + 30*3600) * time.Second)
			named := map[cause.Suspect]bool{}
			for _, f := range p.last.Findings {
				t.Logf("%s / %s: %s", f.Cause, f.Suspect, f.Sentence)
				if f.Cause == cause.TwoFaults {
					if len(r.both) == 0 {
						t.Error("one fault is called two")
					}
					for _, x := range f.Set {
						named[x.Suspect] = true
					}
				} else {
					named[f.Suspect] = true
				}
			}
			for _, s := range r.both {
				if !named[s] {
					t.Errorf("the %s is not named", s)
				}
			}
		})
	}
}

// A float that catches and comes free without rule fits no regular form, and yet
// is one fault as long as the other levels agree with each other.
func TestIrregularFloatIsOneFault(t *testing.T) {
	for seed := range uint64(4) {
		sheet := baseSheet()
		sheet.Vessel = &datasheet.Vessel{Tag: "LT-102", U: .002}
		p := newPlant(t, sheet, 5)
		rng, at, until, mode := rand.New(rand.NewPCG(seed, 4)), math.NaN(), 0.0, 0
		p.float = func(s, l float64) float64 {
			if s < 30*3600 || math.IsNaN(at) {
				at = l
				return l
			}
			if s > until {
				mode, until = rng.IntN(4), s+3600*(.5+4*rng.Float64())
			}
			switch mode {
			case 0:
				at = l
			case 1:
				at += .002 * (l - at)
			case 2:
				at = math.Min(l, 520)
			}
			return at
		}
		p.run(30 * time.Hour)
		for range 72 {
			p.run(time.Hour)
			for _, f := range p.last.Findings {
				if f.Cause == cause.TwoFaults {
					t.Errorf("%d %v: %s", seed, p.now, f.Sentence)
				}
			}
		}
		if f := p.last.Findings; len(f) == 0 || f[0].Suspect == cause.Transmitter || f[0].Suspect == cause.Vessel {
			t.Errorf("%d: %+v is not about the float", seed, f)
		}
	}
}
