package compare_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/scenario"
)

// well plays the record of a stilling well with a fault until some time after
// its onset and returns the findings that are open then.
func well(t *testing.T, name string, index int, after time.Duration) []cause.Finding {
	t.Helper()
	cells := scenario.WellFaults()
	i := slices.IndexFunc(cells, func(c scenario.Cell) bool { return c.Name() == name })
	if i < 0 {
		t.Fatalf("no fault %q", name)
	}
	trial := scenario.WellFaultTrials(scenario.Tune, cells[i], index+1)[index]
	return play(t, &trial, trial.Onset+after)
}

// play plays a record and returns the findings that are open at its end.
func play(t *testing.T, trial *scenario.Trial, length time.Duration) []cause.Finding {
	t.Helper()
	unit, err := trial.Unit()
	if err != nil {
		t.Fatal(err)
	}
	g, err := compare.New(*trial.Sheet)
	if err != nil {
		t.Fatal(err)
	}
	var st compare.State
	var open []cause.Finding
	tape := scenario.NewTape(unit, trial.Record, trial.Options.Seed)
	for tape.Now().Sub(scenario.Start) < length {
		now, in, err := tape.Next()
		if err != nil {
			t.Fatal(err)
		}
		r := g.Evaluate(now, &in, &st)
		open = r.Findings
	}
	return open
}

// The density of a sea is not a sixth off: a pressure sensor that reads a
// quarter of a metre high is wrong by itself.
func TestSeaIsNoOtherProduct(t *testing.T) {
	open := well(t, "transmitter-zero 250 mm at PRS-901", 0, 2*24*time.Hour)
	if len(open) == 0 || open[0].Suspect != cause.Transmitter || open[0].Tag != "PRS-901" {
		t.Errorf("%+v", open)
	}
}

// A float that never gave a reading is not at the bottom of its travel.
func TestSilentFloatIsNotSunk(t *testing.T) {
	for _, f := range well(t, "transmitter-zero 250 mm at PRS-901", 3, 24*time.Hour) {
		for _, e := range f.Evidence {
			if strings.Contains(e.Sentence, "Float") && f.Suspect != cause.Signal {
				t.Errorf("%s", e.Sentence)
			}
		}
	}
}
