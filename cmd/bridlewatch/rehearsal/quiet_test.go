package rehearsal

import (
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/scenario"
)

// A healthy plant must stay without a finding, whatever is random in it: what
// a rehearsal shows has to be what was asked for.
func TestHealthyPlantHasNoFindings(t *testing.T) {
	onEveryGauge(t, func(t *testing.T, sheet *datasheet.Sheet, number int) {
		for seed := range uint64(4) {
			run(t, sheet, Options{Seed: seed + 1}, number, 3*24*time.Hour, func(at time.Duration, r *compare.Result) bool {
				for _, f := range r.Opened {
					t.Errorf("seed %d, after %v, %s %s: %s", seed+1, at, f.Tier, f.Symptom, f.Sentence)
				}
				return true
			})
		}
	})
}

// onEveryGauge tries something on every gauge of the plant.
func onEveryGauge(t *testing.T, try func(t *testing.T, sheet *datasheet.Sheet, number int)) {
	c, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.Gauges {
		sheet := &c.Gauges[i].Sheet
		t.Run(sheet.Tag, func(t *testing.T) {
			t.Parallel()
			try(t, sheet, i)
		})
	}
}

// run takes one gauge through a time, a scan a minute, as long as see wants more.
func run(t *testing.T, sheet *datasheet.Sheet, o Options, number int, span time.Duration, see func(at time.Duration, r *compare.Result) bool) {
	t.Helper()
	o.Start = scenario.Start
	u, err := newUnit(sheet, o, number)
	if err != nil {
		t.Fatal(err)
	}
	g, err := compare.New(*sheet)
	if err != nil {
		t.Fatal(err)
	}
	var st compare.State
	for at := time.Minute; at < span; at += time.Minute {
		s, err := u.Step(scenario.Start.Add(at))
		if err != nil {
			t.Fatal(err)
		}
		if r := g.Evaluate(s.Time, &s, &st); !see(at, &r) {
			return
		}
	}
}
