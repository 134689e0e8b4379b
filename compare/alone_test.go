package compare_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"bridlewatch/compare/cause"
)

// Of two faults that are there at once no third is named: both are, or one of
// them, or none.
func TestNoThirdIsNamed(t *testing.T) {
	add := func(mm, per float64) func(s, l float64) float64 {
		return func(_, l float64) float64 { return l + mm + per*l }
	}
	there := func(s cause.Suspect) bool { return s == cause.Follower || s == cause.Transmitter }
	for _, r := range []struct {
		name                   string
		indicated, transmitter func(s, l float64) float64
	}{
		{"follower and transmitter up", add(20, 0), add(40, 0)},
		{"follower and span", add(20, 0), add(0, .08)},
	} {
		for _, depth := range []float64{60, 250} {
			t.Run(fmt.Sprintf("%s, level moves %.0f mm", r.name, depth), func(t *testing.T) {
				sheet := baseSheet()
				withVessel(&sheet)
				p := newPlant(t, sheet, 5)
				p.step = time.Minute
				wide := wander(5)
				p.level = func(s float64) float64 { return 450 + depth/290*(wide(s)-500) }
				p.run(15 * 24 * time.Hour)
				p.start = p.now
				p.level = func(s float64) float64 { return 450 + depth/290*(wide(s+15*86400)-500) }
				p.indicated, p.transmitter = r.indicated, r.transmitter
				p.run(24 * time.Hour)
				for range 48 {
					p.run(time.Hour)
					for _, f := range p.last.Findings {
						if f.Tier != cause.Alert {
							continue
						}
						if f.Suspect != cause.Undecided && !there(f.Suspect) {
							t.Errorf("%v: %s is named: %s", p.now, f.Suspect, f.Sentence)
						}
						if f.Cause == cause.TwoFaults && len(f.Set) == 2 {
							for _, x := range f.Set {
								if !there(x.Suspect) {
									t.Errorf("%v: %s is named: %s", p.now, x.Suspect, f.Sentence)
								}
							}
						}
					}
				}
				for _, f := range p.last.Findings {
					t.Logf("%s/%s more=%v %s", f.Cause, f.Suspect, f.More, f.Sentence)
				}
			})
		}
	}
}

// One transmitter has shifted; the two others move apart and together again
// with the hours by what they may. The name of the first does not come and go.
func TestANameStaysWhileTheOthersWander(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := newPlant(t, sheet, 5)
	p.step = time.Minute
	p.run(15 * 24 * time.Hour)
	from := p.now.Sub(p.start).Seconds()
	p.transmitter = func(_, l float64) float64 { return l + 60 }
	p.vessel = func(s, l float64) float64 { return l + 11*math.Sin(2*math.Pi*(s-from)/43200) }
	var names []cause.Suspect
	for range 72 {
		p.run(time.Hour)
		for _, f := range p.last.Findings {
			if f.Tier == cause.Alert && (len(names) == 0 || names[len(names)-1] != f.Suspect) {
				names = append(names, f.Suspect)
			}
		}
	}
	if len(names) != 1 || names[0] != cause.Transmitter {
		t.Errorf("named %v", names)
	}
}
