package scenario_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

var start = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

// brisk is a batch that hardly rests.
func brisk() scenario.Process {
	p := scenario.BatchProcess()
	p.Hold, p.Quiet = 5*time.Minute, 0
	return p
}

func newUnit(t *testing.T, sheet *datasheet.Sheet, o scenario.Options, faults ...string) *scenario.Unit {
	t.Helper()
	o.Start = start
	for _, text := range faults {
		f, err := scenario.ParseFault(sheet.Tag + ":" + text)
		if err != nil {
			t.Fatal(err)
		}
		o.Faults = append(o.Faults, f)
	}
	u, err := scenario.New(sheet, o)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// run steps a unit and calls look after each step.
func run(t *testing.T, u *scenario.Unit, step, length time.Duration, look func(gauge.Snapshot, scenario.Truth)) {
	t.Helper()
	for at := step; at <= length; at += step {
		s, err := u.Step(start.Add(at))
		if err != nil {
			t.Fatalf("after %v: %v", at, err)
		}
		look(s, u.Truth())
	}
}

func TestHealthyInstrumentsFollowTheTruth(t *testing.T) {
	sheets := map[string]func() *datasheet.Sheet{"radar": glycol, "wet leg": drum, "dry leg": dry, "displacer": weighed, "float only": bare}
	steps := map[string]time.Duration{"1 s": time.Second, "7 s": 7 * time.Second, "60 s": time.Minute}
	for name, sheet := range sheets {
		for stepName, step := range steps {
			t.Run(name+" every "+stepName, func(t *testing.T) {
				u := newUnit(t, sheet(), scenario.Options{Process: brisk(), Seed: 7})
				model, err := gauge.New(*sheet())
				if err != nil {
					t.Fatal(err)
				}
				var m gauge.Measurement
				low, high := math.Inf(1), math.Inf(-1)
				run(t, u, step, min(6*time.Hour, 4000*step), func(s gauge.Snapshot, truth scenario.Truth) {
					model.Measure(&s, &m)
					low, high = math.Min(low, float64(truth.Chamber)), math.Max(high, float64(truth.Chamber))
					near(t, "float", m.Float.Value, truth.Chamber, 12e-3)
					if sheet().Transmitter != nil {
						near(t, "transmitter", m.Transmitter.Value, truth.Chamber, 12e-3)
					}
				})
				if high-low < 0.1*float64(sheet().Chamber.CentreToCentre) && step >= 7*time.Second {
					t.Errorf("the level moved only from %.3f to %.3f m", low, high)
				}
			})
		}
	}
}

func near(t *testing.T, what string, got, want, within quantity.Length) {
	t.Helper()
	if d := got - want; !(math.Abs(float64(d)) <= float64(within)) {
		t.Fatalf("%s says %.4f m, the liquid stands at %.4f m", what, got, want)
	}
}

func TestStuckFloatLeavesTheTruth(t *testing.T) {
	u := newUnit(t, glycol(), scenario.Options{Process: brisk(), Seed: 3}, "float-stuck@30m")
	healthy := newUnit(t, glycol(), scenario.Options{Process: brisk(), Seed: 3})
	var stuckAt, worst quantity.Length
	run(t, u, 10*time.Second, 6*time.Hour, func(s gauge.Snapshot, truth scenario.Truth) {
		h, err := healthy.Step(s.Time)
		if err != nil {
			t.Fatal(err)
		}
		if h.Transmitter != s.Transmitter {
			t.Fatalf("at %v the transmitter says %v with and %v without the fault", s.Time, s.Transmitter, h.Transmitter)
		}
		since := s.Time.Sub(start)
		switch {
		case since < 30*time.Minute:
			if h != s {
				t.Fatalf("the readings differ before the fault, at %v", s.Time)
			}
			stuckAt = truth.Float
		case truth.Float != stuckAt:
			t.Fatalf("the stuck float moved from %.4f to %.4f m", stuckAt, truth.Float)
		}
		worst = max(worst, truth.Chamber-truth.Float, truth.Float-truth.Chamber)
	})
	if worst < 0.3 {
		t.Errorf("the level never left the stuck float by more than %.0f mm", worst.Millimetres())
	}
}

func TestSameSeedSameReadings(t *testing.T) {
	for _, service := range scenario.Services() {
		t.Run(service.Name, func(t *testing.T) {
			o := scenario.Options{Process: scenario.ControlProcess(), Service: service, Seed: 11}
			a, b := newUnit(t, glycol(), o), newUnit(t, glycol(), o)
			o.Seed++
			other := newUnit(t, glycol(), o)
			differs := false
			run(t, a, time.Minute, 24*time.Hour, func(s gauge.Snapshot, _ scenario.Truth) {
				again, err := b.Step(s.Time)
				if err != nil {
					t.Fatal(err)
				}
				if s != again {
					t.Fatalf("the same seed gives other readings at %v", s.Time)
				}
				o, _ := other.Step(s.Time)
				differs = differs || o != s
			})
			if !differs {
				t.Error("another seed gives the same readings")
			}
		})
	}
}

func TestTimeDoesNotGoBack(t *testing.T) {
	u := newUnit(t, glycol(), scenario.Options{Seed: 1})
	first, err := u.Step(start.Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	again, err := u.Step(start)
	if err != nil || again != first {
		t.Errorf("an earlier time gives other readings or an error: %v", err)
	}
}

func TestPointsFollowTheFloatOnly(t *testing.T) {
	u := newUnit(t, glycol(), scenario.Options{Process: brisk(), Seed: 5}, "float-stuck@20m")
	var before [2]float64
	crossed := false
	run(t, u, 10*time.Second, 8*time.Hour, func(s gauge.Snapshot, truth scenario.Truth) {
		if s.Time.Sub(start) < 20*time.Minute {
			before = [2]float64{s.Points[0].Value, s.Points[1].Value}
			return
		}
		if now := [2]float64{s.Points[0].Value, s.Points[1].Value}; now != before {
			t.Fatalf("a magnet-operated point switched at %v although the float is stuck", s.Time)
		}
		crossed = crossed || (truth.Chamber > 0.76) != (before[1] == 1)
	})
	if !crossed {
		t.Error("the level never crossed a point, so the test shows nothing")
	}
}
