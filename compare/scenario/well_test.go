package scenario_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

func TestWellSeedsAreOfTheirOwn(t *testing.T) {
	owner := map[uint64]string{}
	for _, set := range scenario.Sets() {
		var trials []scenario.Trial
		for _, s := range scenario.Services() {
			trials = append(trials, scenario.HealthyTrials(set, s, 50, time.Minute)...)
		}
		for _, c := range scenario.Ladder() {
			trials = append(trials, scenario.FaultTrials(set, c, 50, time.Minute)...)
		}
		for _, w := range scenario.Wells() {
			trials = append(trials, scenario.WellTrials(set, w, 50)...)
		}
		for _, c := range scenario.WellFaults() {
			trials = append(trials, scenario.WellFaultTrials(set, c, 50)...)
		}
		for _, trial := range trials {
			name := string(set) + " " + trial.Name
			if first, taken := owner[trial.Options.Seed]; taken {
				t.Fatalf("a trial of %q has the seed of one of %q", name, first)
			}
			owner[trial.Options.Seed] = name
		}
	}
}

// rows plays the record of a trial for some days.
func rows(t *testing.T, trial *scenario.Trial, length time.Duration, see func(at time.Time, values [3]quantity.Reading)) {
	t.Helper()
	unit, err := trial.Unit()
	if err != nil {
		t.Fatalf("%s: %v", trial.Name, err)
	}
	tape := scenario.NewTape(unit, trial.Record, trial.Options.Seed)
	for tape.Now().Sub(scenario.Start) < length {
		at, s, err := tape.Next()
		if err != nil {
			t.Fatalf("%s, seed %#x: %v", trial.Name, trial.Options.Seed, err)
		}
		see(at, [3]quantity.Reading{s.Float, s.Transmitter, s.Second})
	}
}

// Every kind of well and every fault runs without leaving the range of the
// physics, and healthy instruments agree on calm water.
func TestEveryWellRuns(t *testing.T) {
	var trials []scenario.Trial
	for _, w := range scenario.Wells() {
		trials = append(trials, scenario.WellTrials(scenario.Tune, w, 2)...)
	}
	for _, c := range scenario.WellFaults() {
		trials = append(trials, scenario.WellFaultTrials(scenario.Tune, c, 2)...)
	}
	for i := range trials {
		low, high := math.Inf(1), math.Inf(-1)
		rows(t, &trials[i], 4*24*time.Hour, func(_ time.Time, values [3]quantity.Reading) {
			for _, r := range values {
				if r.Quality == quantity.Good {
					low, high = min(low, r.Value), max(high, r.Value)
				}
			}
		})
		if tide := trials[i].Options.Process.Tide.Range; high-low < tide/5 {
			t.Errorf("%s: levels from %.3f to %.3f m on a spring tide of %.2f m", trials[i].Name, low, high, tide)
		}
	}
}

// A spring tide is as large as it is said to be: the largest distance of high
// and low water in a month, without weather.
func TestSpringTide(t *testing.T) {
	for _, diurnal := range []float64{0, 0.3, 1, 4} {
		trial := scenario.WellTrials(scenario.Tune, scenario.Wells()[1], 1)[0]
		tide := &trial.Options.Process.Tide
		*tide = scenario.Tide{Mean: 0.5, Range: 2, Diurnal: diurnal}
		trial.Record = &scenario.Record{Transmitter: scenario.Column{Every: 10 * time.Minute}, High: 8, MaxAge: time.Hour}
		low, high := math.Inf(1), math.Inf(-1)
		rows(t, &trial, 32*24*time.Hour, func(_ time.Time, values [3]quantity.Reading) {
			if values[0].Quality != quantity.Absent || values[2].Quality != quantity.Absent {
				t.Fatal("an instrument without a column has a value")
			}
			low, high = min(low, values[1].Value), max(high, values[1].Value)
		})
		if got := high - low; got < 1.5 || got > 2.7 {
			t.Errorf("diurnal %g: spring range %.2f m, want about 2", diurnal, got)
		}
	}
}

// A clock that is an hour off shows the level of an hour ago, or of an hour to
// come.
func TestClockInARecord(t *testing.T) {
	play := func(hours float64) (at []time.Time, level map[time.Time]float64) {
		trial := scenario.WellTrials(scenario.Tune, scenario.Wells()[1], 1)[0]
		trial.Record = &scenario.Record{Float: scenario.Column{Every: 6 * time.Minute}, High: 8, MaxAge: time.Hour}
		if hours != 0 {
			trial.Record.Faults = []scenario.Fault{{Kind: scenario.TimeSkew, Part: "ENC-901", Size: hours * 3600, Delay: 24 * time.Hour}}
		}
		level = map[time.Time]float64{}
		rows(t, &trial, 48*time.Hour, func(now time.Time, values [3]quantity.Reading) {
			at = append(at, now)
			level[now] = values[0].Value
		})
		return at, level
	}
	times, right := play(0)
	for _, hours := range []float64{1, -1} {
		_, wrong := play(hours)
		for _, now := range times {
			then := now
			if now.Sub(scenario.Start) >= 24*time.Hour {
				then = now.Add(-time.Duration(hours * float64(time.Hour)))
			}
			if want, there := right[then]; there && wrong[now] != want {
				t.Fatalf("%g h: %v reads %.4f m, want the %.4f m of %v", hours, now, wrong[now], want, then)
			}
		}
	}
}

// A historian that holds repeats what it had with a fresh time; what is
// missing grows old; what is corrupt is not plausible or wild.
func TestTelemetryOfARecord(t *testing.T) {
	trial := scenario.WellTrials(scenario.Tune, scenario.Wells()[1], 1)[0]
	grid := scenario.Column{Every: 6 * time.Minute, Step: 1e-3}
	trial.Record = &scenario.Record{Float: grid, Transmitter: grid, MaxAge: 15 * time.Minute, High: 8.1, Low: -0.1, Holds: 20, Hold: 6 * time.Hour, Bursts: 20, Missing: 0.2}
	held, corrupt, stale := 0, 0, 0
	var before [3]quantity.Reading
	rows(t, &trial, 20*24*time.Hour, func(at time.Time, values [3]quantity.Reading) {
		for i := range 2 {
			switch r := values[i]; {
			case r.Quality == quantity.Bad && r.Reason == quantity.OutOfRange:
				corrupt++
			case r.Quality == quantity.Stale:
				stale++
			case r.Value == before[i].Value && r.Time == at && before[i].Time != at:
				held++
			}
		}
		before = values
	})
	if held < 100 || corrupt < 5 || stale < 5 {
		t.Errorf("%d values held, %d out of range, %d too old", held, corrupt, stale)
	}
}
