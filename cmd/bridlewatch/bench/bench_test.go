package bench

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

// Garwood's limits. Two-sided 95 % as in Ulm, American Journal of
// Epidemiology 131 (1990), and one-sided 95 % as in any table of the Poisson
// distribution; the digits are from memory and agree with chi-squared tables.
func TestGarwood(t *testing.T) {
	rows := []struct {
		name             string
		n                int
		low, high, upper float64
	}{
		{"no event", 0, 0, 3.689, 2.996},
		{"one event", 1, 0.0253, 5.572, 4.744},
		{"two events", 2, 0.242, 7.225, 6.296},
		{"three events", 3, 0.619, 8.767, 7.754},
		{"ten events", 10, 4.795, 18.390, 16.962},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			got := garwood(row.n, 1)
			for what, pair := range map[string][2]float64{"low": {got.Low, row.low}, "high": {got.High, row.high}, "upper": {upperRate(row.n, 1), row.upper}} {
				if math.Abs(pair[0]-pair[1]) > 0.0006 {
					t.Errorf("%s limit %.4f, want %.4f", what, pair[0], pair[1])
				}
			}
			if ten := garwood(row.n, 10); math.Abs(ten.High*10-got.High) > 1e-9 {
				t.Error("ten times the exposure does not give a tenth of the rate")
			}
		})
	}
}

// Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 5
// (Clopper-Pearson), values from memory.
func TestClopperPearson(t *testing.T) {
	rows := []struct {
		name      string
		k, n      int
		low, high float64
	}{
		{"81 of 263", 81, 263, 0.2527, 0.3676},
		{"15 of 148", 15, 148, 0.0578, 0.1617},
		{"0 of 20", 0, 20, 0, 0.1684},
		{"1 of 29", 1, 29, 0.0009, 0.1776},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			got := clopperPearson(row.k, row.n)
			if math.Abs(got.Low-row.low) > 5e-5 || math.Abs(got.High-row.high) > 5e-5 {
				t.Errorf("%.4f to %.4f, want %.4f to %.4f", got.Low, got.High, row.low, row.high)
			}
		})
	}
	if all := clopperPearson(29, 29); math.Abs(all.Low-math.Pow(0.025, 1.0/29)) > 1e-9 || all.High != 1 {
		t.Errorf("29 of 29: %+v", all)
	}
}

func TestQuantileCountsMisses(t *testing.T) {
	rows := []struct {
		name   string
		values []float64
		misses int
		p      float64
		want   float64 // NaN: among the misses
	}{
		{"median", []float64{3, 1, 2}, 0, 0.5, 2},
		{"p90 of ten", []float64{10, 9, 8, 7, 6, 5, 4, 3, 2, 1}, 0, 0.9, 9},
		{"median with misses", []float64{1, 2}, 2, 0.5, 2},
		{"p90 with misses", []float64{1, 2, 3}, 1, 0.9, math.NaN()},
		{"nothing", nil, 0, 0.5, math.NaN()},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			if got := quantile(row.values, row.misses, row.p); got != row.want && !(math.IsNaN(got) && math.IsNaN(row.want)) {
				t.Errorf("got %g, want %g", got, row.want)
			}
		})
	}
}

func TestEveryFaultHasAnAnswer(t *testing.T) {
	for _, d := range scenario.Kinds() {
		if a, ok := answers[d.Kind]; !ok || a.suspect == "" || len(a.causes) == 0 {
			t.Errorf("%s has no answer", d.Kind)
		}
	}
}

func TestJudgeFinding(t *testing.T) {
	set := func(suspects ...cause.Suspect) []cause.Ranked {
		var out []cause.Ranked
		for i, s := range suspects {
			out = append(out, cause.Ranked{Suspect: s, Nats: -float64(i)})
		}
		return out
	}
	rows := map[string]struct {
		finding cause.Finding
		want    judgement
	}{
		"right name": {
			cause.Finding{Suspect: cause.Float, Cause: cause.FloatStuck, Set: set(cause.Float)},
			judgement{made: true, decided: true, right: true, exact: true, covers: true, size: 1, suspect: cause.Float, cause: cause.FloatStuck},
		},
		"right instrument, other fault": {
			cause.Finding{Suspect: cause.Float, Cause: cause.FloatOneWay, Set: set(cause.Float)},
			judgement{made: true, decided: true, right: true, covers: true, size: 1, suspect: cause.Float, cause: cause.FloatOneWay},
		},
		"wrong name": {
			cause.Finding{Suspect: cause.Transmitter, Cause: cause.TransmitterZero, Set: set(cause.Transmitter)},
			judgement{made: true, decided: true, size: 1, suspect: cause.Transmitter, cause: cause.TransmitterZero},
		},
		"undecided, covered": {
			cause.Finding{Suspect: cause.Undecided, Cause: cause.Unknown, Set: set(cause.Follower, cause.Float)},
			judgement{made: true, covers: true, size: 2, suspect: cause.Undecided, cause: cause.Unknown},
		},
		"the truth is too unlikely to be in the set": {
			cause.Finding{Suspect: cause.Undecided, Cause: cause.Unknown, Set: append(set(cause.Follower), cause.Ranked{Suspect: cause.Float, Nats: -4})},
			judgement{made: true, size: 1, suspect: cause.Undecided, cause: cause.Unknown},
		},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(row.want, judgeFinding(&row.finding, scenario.FloatStuck), cmp.AllowUnexported(judgement{})); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// feed gives the alarms a gap in millimetres once a minute.
func feed(a *alarms, from, to time.Duration, onset time.Duration, gap func(at time.Duration) float64) {
	for at := from; at < to; at += time.Minute {
		var m gauge.Measurement
		m.Gaps[gauge.FloatTransmitter] = gauge.Gap{OK: true, Value: quantity.Length(gap(at) / 1e3)}
		a.add(at, onset > 0 && at >= onset, at-onset, &m)
	}
}

func TestDeviationAlarm(t *testing.T) {
	const day = 24 * time.Hour
	a := newAlarms()
	quiet := func(at time.Duration) float64 { return 3 + float64(at/time.Minute%3) }
	feed(a, 0, 20*day, 30*day, quiet)
	feed(a, 20*day, 20*day+10*time.Minute, 30*day, func(time.Duration) float64 { return 30 }) // a false alarm of ten minutes
	feed(a, 20*day+10*time.Minute, 30*day, 30*day, quiet)
	feed(a, 30*day, 31*day, 30*day, func(time.Duration) float64 { return 30 })
	first, episodes := a.results()
	if first[0] != time.Minute || episodes[0] != 1 {
		t.Errorf("20 mm and 60 s: after %v with %d false episodes, want one minute and one", first[0], episodes[0])
	}
	if at := 1*(steps+1) + 0; first[at] >= 0 || episodes[at] != 0 {
		t.Errorf("50 mm and 300 s: after %v with %d false episodes, want never and none", first[at], episodes[at])
	}
	for step := 1; step < steps; step++ {
		if episodes[step+1] > episodes[step] {
			t.Errorf("a higher threshold gives more false alarms: %v", episodes[:steps+1])
		}
	}
}

func TestRunDoesNotDependOnWorkers(t *testing.T) {
	run := func(workers int) *Report {
		last := 0
		r, err := Run(context.Background(), Options{
			Set: scenario.Tune, Years: 0.02, Repeats: 2, Workers: workers,
			Only: func(name string) bool {
				return name == "benign" || name == "float-sunk" || name == "transmitter-zero 40 mm"
			},
			Progress: func(done, total int) { last = done; _ = total },
		})
		if err != nil {
			t.Fatal(err)
		}
		if last != 5 {
			t.Errorf("progress ended at %d of 5", last)
		}
		r.Seconds, r.Workers = 0, 0
		return r
	}
	one, three := run(1), run(3)
	a, err := json.Marshal(one)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := json.Marshal(three)
	if !bytes.Equal(a, b) {
		t.Errorf("one worker and three give different reports:\n%s\n%s", a, b)
	}
	if len(one.Faults) != 2 || one.Faults[0].Trials != 2 || len(one.Healthy) != 1 {
		t.Fatalf("report of %d faults and %d classes", len(one.Faults), len(one.Healthy))
	}
	var table strings.Builder
	if err := one.WriteTable(&table); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"float-sunk", "transmitter-zero 40 mm", "benign", "Page-Hinkley", "deviation, 60 s"} {
		if !strings.Contains(table.String(), want) {
			t.Errorf("the table does not show %q:\n%s", want, table.String())
		}
	}
}

func TestRunStopsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Run(ctx, Options{Years: 1, Repeats: 1}); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

func TestOptionsAreChecked(t *testing.T) {
	for name, o := range map[string]Options{"set": {Set: "all"}, "scan": {Every: time.Hour}} {
		t.Run(name, func(t *testing.T) {
			if _, err := Run(context.Background(), o); err == nil {
				t.Error("accepted")
			}
		})
	}
}

// A delay cannot be told while the level rests, and the gauge says so: such a
// trial is no miss, and one that moves is.
func TestBlindTrialsAreNoMisses(t *testing.T) {
	for name, row := range map[string]struct {
		process scenario.Process
		want    bool
	}{
		"at rest": {scenario.Process{Motion: scenario.Control, Low: 0.4, High: 0.6, RateMin: 1e-6, RateMax: 1e-5, Hold: 9000 * time.Hour, Wander: 1e-5, WanderTime: time.Hour, Quiet: 1}, false},
		"moving":  {scenario.BatchProcess(), true},
	} {
		t.Run(name, func(t *testing.T) {
			cell := scenario.Cell{Kind: scenario.TimeSkew, Size: 1, Days: 5} // too short to be found
			trial := scenario.FaultTrials(scenario.Tune, cell, 1, time.Minute)[0]
			trial.Options.Process = row.process
			out, err := runTrial(context.Background(), &trial)
			if err != nil {
				t.Fatal(err)
			}
			if out.alert >= 0 || out.exercised != row.want {
				t.Errorf("alert %v, exercised %t, want %t", out.alert, out.exercised, row.want)
			}
		})
	}
}

// A switch fault shows only when the level passes the switch.
func TestExercised(t *testing.T) {
	sheet := &datasheet.Sheet{Points: []datasheet.Point{{Tag: "LSL-1", Elevation: 0.3}, {Tag: "LSH-1", Elevation: 0.6}}}
	trial := scenario.Trial{Sheet: sheet, Options: scenario.Options{Faults: []scenario.Fault{{Kind: scenario.PointFailed, Part: "LSH-1"}}}}
	rows := map[string]struct {
		levels []quantity.Length // one before the onset, the others after
		want   bool
	}{
		"another switch passed":       {[]quantity.Length{0.2, 0.4, 0.5}, false},
		"reached and not passed":      {[]quantity.Length{0.5, 0.62, 0.5}, false},
		"passed once":                 {[]quantity.Length{0.5, 0.7}, false},
		"passed twice":                {[]quantity.Length{0.7, 0.6, 0.5, 0.7}, true},
		"where it was is not known":   {[]quantity.Length{0.6, 0.7, 0.5}, false},
		"only beyond since the onset": {[]quantity.Length{0.7, 0.7}, false},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			r := runner{trial: &trial, faulty: faultyPoint(&trial)}
			for i, level := range row.levels {
				r.pass(i > 0, level)
			}
			if r.out.exercised != row.want {
				t.Errorf("exercised %t, want %t", r.out.exercised, row.want)
			}
		})
	}
	if i := faultyPoint(&scenario.Trial{Sheet: sheet, Options: scenario.Options{Faults: []scenario.Fault{{Kind: scenario.FloatStuck}}}}); i >= 0 {
		t.Errorf("a stuck float happens to point %d", i)
	}
}
