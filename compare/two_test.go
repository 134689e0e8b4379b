package compare_test

import (
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/symptom"
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
					chances := 0.0
					for _, x := range f.Set {
						named[x.Suspect], chances = true, chances+x.Probability
					}
					if chances < 1.8 || chances > 2 {
						t.Errorf("the chances of the two come to %.2f", chances)
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

// late is a level that follows with a time constant from a time on.
func late(from, tau float64) func(s, l float64) float64 {
	y, last := math.NaN(), 0.0
	return func(s, l float64) float64 {
		if math.IsNaN(y) || s < from {
			y = l
		}
		y += (l - y) * -math.Expm1(-(s-last)/tau)
		last = s
		return y
	}
}

// A chamber that follows late and a transmitter that is shifted are two: no
// fault of the transmitter makes the float late.
func TestPluggedChamberWithShiftedTransmitter(t *testing.T) {
	const onset = 30 * 3600.0
	sheet := baseSheet()
	withVessel(&sheet)
	p := newPlant(t, sheet, 5)
	floatLate, transmitterLate := late(onset, 900), late(onset, 900)
	p.float = floatLate
	p.transmitter = func(s, l float64) float64 {
		x := transmitterLate(s, l)
		if s > onset+6*3600 {
			x += 40
		}
		return x
	}
	p.run((onset + 40*3600) * time.Second)
	both := false
	for _, f := range p.last.Findings {
		t.Logf("%s / %s: %s", f.Cause, f.Suspect, f.Sentence)
		named := map[cause.Suspect]bool{}
		for _, x := range f.Set {
			named[x.Suspect] = true
		}
		both = both || f.Cause == cause.TwoFaults && len(named) == 2 && named[cause.Chamber] && named[cause.Transmitter]
		if f.Suspect != cause.Undecided && f.Suspect != cause.Chamber && f.Suspect != cause.Transmitter {
			t.Errorf("the %s is named", f.Suspect)
		}
	}
	if !both {
		t.Error("the chamber and the transmitter are not named together")
	}
}

// The switches say by how much the follower has moved where no third level
// does: what is left of the gap is the transmitter's or the liquid's, and a
// transmitter that stands still does not hide it.
func TestSwitchesShowTheFollowerBesideAnotherFault(t *testing.T) {
	for _, r := range []struct {
		name        string
		transmitter func(s, l float64) float64
		never       cause.Suspect
	}{
		{"shifted the other way", func(_, l float64) float64 { return l - 40 }, cause.Point},
		{"frozen", func(float64, float64) float64 { return 510 }, cause.Point},
		{"sound", nil, cause.Transmitter},
	} {
		t.Run(r.name, func(t *testing.T) {
			sheet := baseSheet()
			fine(&sheet)
			p := commissioned(t, sheet, 5)
			p.indicated, p.transmitter = func(_, x float64) float64 { return x + 20 }, r.transmitter
			p.run(60 * time.Hour)
			follower, other := false, false
			for _, f := range p.alerts() {
				t.Logf("%s / %s: %s", f.Cause, f.Suspect, f.Sentence)
				if f.Suspect == r.never {
					t.Errorf("%s is named: %s", r.never, f.Sentence)
				}
				for _, x := range f.Set {
					follower = follower || x.Suspect == cause.Follower
					other = other || x.Suspect == cause.Transmitter && (f.Cause == cause.TwoFaults || f.Suspect == cause.Transmitter)
				}
			}
			if !follower || other != (r.transmitter != nil) {
				t.Errorf("follower %v, transmitter %v", follower, other)
			}
		})
	}
}

// What is said of an instrument that stays behind holds together: a rest of
// minutes is not told where nothing moved past it, nor beside the way another
// went in days.
func TestStillnessIsToldInOneTime(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := newPlant(t, sheet, 5)
	p.float, p.transmitter = late(20*3600, 1800), late(20*3600, 1800)
	rest := regexp.MustCompile(`(?:Float|Transmitter) has not moved for (\d+) min\.(.*)`)
	told := 0
	for range 60 * 60 {
		p.run(time.Minute)
		for _, f := range p.last.Findings {
			if f.Symptom == symptom.FloatStill || f.Symptom == symptom.TransmitterFrozen {
				told++
			}
			m := rest.FindStringSubmatch(f.Sentence)
			if m == nil {
				continue
			}
			moved := regexp.MustCompile(` moved (\d+) mm`).FindStringSubmatch(m[2])
			minutes, _ := strconv.Atoi(m[1])
			if moved == nil && minutes < 30 {
				t.Fatalf("a short rest is told by itself: %s", f.Sentence)
			}
			if moved != nil {
				if mm, _ := strconv.Atoi(moved[1]); mm > 25*(minutes+12) { // the level moves by less than 25 mm a minute
					t.Fatalf("a way of days beside a rest of minutes: %s", f.Sentence)
				}
			}
		}
	}
	if told == 0 {
		t.Error("nothing is said of an instrument that stands")
	}
}
