package rehearsal

import (
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/scenario"
)

// A stuck float of any gauge of the plant must be found, with the float first
// among what remains, within the two and a half days that a minute shows at the
// highest speed. A level that passes no switch, or a leg that may be plugged,
// leaves a second possibility open.
func TestStuckFloatIsFoundOnEveryGauge(t *testing.T) {
	c, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.Gauges {
		sheet := &c.Gauges[i].Sheet
		t.Run(sheet.Tag, func(t *testing.T) {
			t.Parallel()
			stuck(t, sheet, i)
		})
	}
}

func stuck(t *testing.T, sheet *datasheet.Sheet, number int) {
	t.Helper()
	fault := scenario.Fault{Gauge: sheet.Tag, Kind: scenario.FloatStuck}
	u, err := newUnit(sheet, Options{Seed: 1, Start: scenario.Start, Faults: []scenario.Fault{fault}}, number)
	if err != nil {
		t.Fatal(err)
	}
	g, err := compare.New(*sheet)
	if err != nil {
		t.Fatal(err)
	}
	var st compare.State
	said := "nothing"
	for at := time.Minute; at < 48*time.Hour; at += time.Minute {
		s, err := u.Step(scenario.Start.Add(at))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range g.Evaluate(s.Time, &s, &st).Findings {
			if f.Tier == cause.Alert && len(f.Set) > 0 && f.Set[0].Cause == cause.FloatStuck && (f.Suspect == cause.Float || f.Suspect == cause.Undecided) {
				return
			}
			said = f.Sentence
		}
	}
	t.Errorf("after two days the last word is: %s", said)
}
