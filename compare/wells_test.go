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
	trial := wellTrial(t, name, index)
	return play(t, trial, trial.Onset+after)
}

// wellTrial is the record of a stilling well with a fault.
func wellTrial(t *testing.T, name string, index int) *scenario.Trial {
	t.Helper()
	cells := scenario.WellFaults()
	i := slices.IndexFunc(cells, func(c scenario.Cell) bool { return c.Name() == name })
	if i < 0 {
		t.Fatalf("no fault %q", name)
	}
	return &scenario.WellFaultTrials(scenario.Tune, cells[i], index+1)[index]
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

// An archive has one value an hour: a float that hangs, a radar that froze and a
// follower that slipped are found there too, and a sound well is quiet.
func TestHourlyRecord(t *testing.T) {
	hourly := func(trial *scenario.Trial) *scenario.Trial {
		r := trial.Record
		for _, c := range []*scenario.Column{&r.Float, &r.Transmitter, &r.Second} {
			c.Every, c.Absent = time.Hour, 0
		}
		return trial
	}
	for name, by := range map[string]struct {
		suspect cause.Suspect
		tag     string
	}{
		"float-stuck at ENC-901":             {cause.EitherOfFloat, "ENC-901"},
		"transmitter-frozen at RAD-901":      {cause.Transmitter, "RAD-901"},
		"follower-shifted 740 mm at ENC-901": {cause.Follower, "ENC-901"},
	} {
		trial := hourly(wellTrial(t, name, 0))
		open := play(t, trial, trial.Onset+3*24*time.Hour)
		if len(open) == 0 || open[0].Tier != cause.Alert || open[0].Blamed() != by.suspect || open[0].Tag != by.tag {
			t.Errorf("%s: %+v", name, open)
		}
		for _, f := range play(t, trial, trial.Onset) {
			t.Errorf("%s, before: %s", name, f.Sentence)
		}
	}
}

// The name of a clock that is an hour off does not change when marks of four
// hours, which cannot show an hour, are looked at.
func TestClockStaysNamed(t *testing.T) {
	open := well(t, "time-skew -60 min at ENC-901", 2, 60*time.Hour)
	if len(open) == 0 || open[0].Suspect != cause.Clock {
		t.Errorf("%+v", open)
	}
}

// On a tide of half a metre, read once an hour, a clock that is an hour off never
// lets a gap stay for hours; what agrees an hour apart is told all the same.
func TestClockOfAGapThatComesAndGoes(t *testing.T) {
	trial := wellTrial(t, "time-skew 60 min at PRS-901", 0)
	r := trial.Record
	for _, c := range []*scenario.Column{&r.Float, &r.Transmitter, &r.Second} {
		c.Every, c.Absent = time.Hour, 0
	}
	open := play(t, trial, trial.Onset+44*time.Hour)
	if len(open) == 0 || open[0].Tier != cause.Alert || open[0].Suspect != cause.Clock {
		t.Errorf("%+v", open)
	}
}

// A pressure sensor that drifted and was cleaned drifts no more: the alert ends
// within days and is not told again under another name while the trend of the last
// weeks still shows what was before.
func TestCleaningEndsADrift(t *testing.T) {
	trial := wellTrial(t, "transmitter-drift -40 mm/month at PRS-901", 2)
	const drifts = 55 * 24 * time.Hour
	trial.Options.Faults[0].For = drifts
	open := play(t, trial, trial.Onset+drifts-time.Hour)
	if len(open) == 0 || open[0].Cause != cause.TransmitterDrift || open[0].Tag != "PRS-901" {
		t.Fatalf("before the cleaning: %+v", open)
	}
	for _, days := range []time.Duration{5, 8} {
		for _, f := range play(t, trial, trial.Onset+drifts+days*24*time.Hour) {
			if f.Suspect != cause.Signal {
				t.Errorf("%d days after the cleaning: %s", days, f.Sentence)
			}
		}
	}
}
