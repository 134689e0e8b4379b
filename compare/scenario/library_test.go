package scenario_test

import (
	"testing"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/scenario"
)

func TestSeedSetsAreDisjoint(t *testing.T) {
	owner := map[uint64]string{}
	for _, set := range scenario.Sets() {
		var trials []scenario.Trial
		for _, s := range scenario.Services() {
			trials = append(trials, scenario.HealthyTrials(set, s, 300, time.Minute)...)
		}
		for _, c := range scenario.Ladder() {
			trials = append(trials, scenario.FaultTrials(set, c, 100, time.Minute)...)
		}
		for i, trial := range trials {
			name := string(set) + " " + trial.Name
			if first, taken := owner[trial.Options.Seed]; taken {
				t.Fatalf("trial %d of %q has the seed of one of %q", i, name, first)
			}
			owner[trial.Options.Seed] = name
		}
	}
}

func TestLibraryCoversTheCatalogue(t *testing.T) {
	have := map[scenario.Kind]bool{}
	for _, c := range scenario.Ladder() {
		have[c.Kind] = true
		if len(scenario.FaultTrials(scenario.Tune, c, 8, time.Minute)) != 8 {
			t.Errorf("%s: no gauge can have it", c.Name())
		}
	}
	for _, d := range scenario.Kinds() {
		if !have[d.Kind] {
			t.Errorf("%s is never tried", d.Kind)
		}
	}
	principles := map[datasheet.Principle]bool{}
	for _, m := range scenario.Makes() {
		s := m.Sheet()
		if s.Transmitter != nil {
			principles[s.Transmitter.Principle] = true
		}
	}
	if len(principles) < 4 {
		t.Errorf("the gauges have %d principles of transmitter", len(principles))
	}
}

// Every trial of the library must run without leaving the range of any
// physical model.
func TestEveryTrialRuns(t *testing.T) {
	var trials []scenario.Trial
	for _, s := range scenario.Services() {
		trials = append(trials, scenario.HealthyTrials(scenario.Tune, s, 8, time.Minute)...)
	}
	for _, c := range scenario.Ladder() {
		trials = append(trials, scenario.FaultTrials(scenario.Tune, c, 3, time.Minute)...)
	}
	for _, trial := range trials {
		if len(trial.Options.Faults) > 0 {
			trial.Options.Faults[0].Delay = 12 * time.Hour
		}
		u, err := trial.Unit()
		if err != nil {
			t.Fatalf("%s of %s: %v", trial.Name, trial.Make, err)
		}
		feed := scenario.NewFeed(u, 10*time.Minute, trial.Options.Seed)
		for u.Now().Sub(scenario.Start) < 36*time.Hour {
			if _, _, err := feed.Next(); err != nil {
				t.Fatalf("%s of %s, seed %#x: %v", trial.Name, trial.Make, trial.Options.Seed, err)
			}
		}
	}
}

func TestHealthyTrialsAddUp(t *testing.T) {
	sum := 0.0
	for _, trial := range scenario.HealthyTrials(scenario.Validate, scenario.Harsh(), 12.5, time.Minute) {
		sum += trial.Years()
	}
	if sum < 12.499 || sum > 12.501 {
		t.Errorf("%.3f gauge-years, want 12.5", sum)
	}
}
