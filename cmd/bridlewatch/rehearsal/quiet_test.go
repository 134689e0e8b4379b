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
	c, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.Gauges {
		sheet := &c.Gauges[i].Sheet
		t.Run(sheet.Tag, func(t *testing.T) {
			t.Parallel()
			for seed := range uint64(4) {
				quiet(t, sheet, seed+1, i)
			}
		})
	}
}

// quiet runs one healthy gauge for three days, a scan a minute.
func quiet(t *testing.T, sheet *datasheet.Sheet, seed uint64, number int) {
	t.Helper()
	u, err := newUnit(sheet, Options{Seed: seed, Start: scenario.Start}, number)
	if err != nil {
		t.Fatal(err)
	}
	g, err := compare.New(*sheet)
	if err != nil {
		t.Fatal(err)
	}
	var st compare.State
	for at := time.Minute; at < 3*24*time.Hour; at += time.Minute {
		s, err := u.Step(scenario.Start.Add(at))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range g.Evaluate(s.Time, &s, &st).Opened {
			t.Errorf("seed %d, after %v, %s %s: %s", seed, at, f.Tier, f.Symptom, f.Sentence)
		}
	}
}
