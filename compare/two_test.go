package compare_test

import (
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
