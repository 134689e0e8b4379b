package scenario_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

// effect is what a fault must do to the readings: it is given the readings
// with the fault and those of the healthy twin, hour after hour.
type effect struct {
	sheet   func() *datasheet.Sheet
	process scenario.Process
	fault   string
	check   func(t *testing.T, bad, good []gauge.Snapshot, truth []scenario.Truth)
}

func series(s []gauge.Snapshot, of func(*gauge.Snapshot) float64) []float64 {
	out := make([]float64, len(s))
	for i := range s {
		out[i] = of(&s[i])
	}
	return out
}

func transmitterOf(s *gauge.Snapshot) float64 { return s.Transmitter.Value }
func floatOf(s *gauge.Snapshot) float64       { return s.Float.Value }

func vesselOf(s *gauge.Snapshot) float64 { return s.Vessel.Value }

func difference(a, b []gauge.Snapshot, of func(*gauge.Snapshot) float64) []float64 {
	x, y := series(a, of), series(b, of)
	for i := range x {
		x[i] -= y[i]
	}
	return x
}

func span(v []float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		low, high = math.Min(low, x), math.Max(high, x)
	}
	return high - low
}

func largest(v []float64) float64 {
	m := 0.0
	for _, x := range v {
		if math.Abs(x) > math.Abs(m) {
			m = x
		}
	}
	return m
}

// constant demands one difference throughout.
func constant(of func(*gauge.Snapshot) float64, want float64) func(*testing.T, []gauge.Snapshot, []gauge.Snapshot, []scenario.Truth) {
	return func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
		for i, d := range difference(bad, good, of) {
			if math.Abs(d-want) > 1e-9 {
				t.Fatalf("at %v the difference is %.6f, want %.6f", bad[i].Time, d, want)
			}
		}
	}
}

func TestFaultsDoWhatTheySay(t *testing.T) {
	batch := brisk()
	rows := map[string]effect{
		"float-stuck": {sheet: glycol, fault: "float-stuck", check: func(t *testing.T, bad, _ []gauge.Snapshot, _ []scenario.Truth) {
			if s := span(series(bad, floatOf)); s > 6e-3 {
				t.Errorf("the float moved %.4f m", s)
			}
		}},
		"float-partly-stuck": {sheet: glycol, fault: "float-partly-stuck=500mm", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			for i := range bad {
				free, reads := good[i].Float.Value, bad[i].Float.Value
				if want := math.Min(free, 0.5); math.Abs(reads-want) > 6e-3 {
					t.Fatalf("at %.3f m the float reads %.3f m", free, reads)
				}
			}
		}},
		"float-one-way": {sheet: glycol, fault: "float-one-way", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			d := difference(bad, good, floatOf)
			if low, high := -span(append(d, 0)), largest(d); high < 0.2 || low < -1 {
				t.Errorf("the float stayed behind by %.3f m at most, only on the way down", high)
			}
			for _, x := range d {
				if x < -5e-3 {
					t.Fatalf("the float reads %.4f m low although it rises freely", x)
				}
			}
		}},
		"float-stick-slip": {sheet: glycol, fault: "float-stick-slip=30mm", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			if d := largest(difference(bad, good, floatOf)); math.Abs(d) < 20e-3 || math.Abs(d) > 36e-3 {
				t.Errorf("largest lag %.4f m, want about 30 mm", d)
			}
		}},
		"float-sunk": {sheet: glycol, fault: "float-sunk", check: func(t *testing.T, bad, _ []gauge.Snapshot, _ []scenario.Truth) {
			if s := series(bad[2:], floatOf); largest(s) > 0 || largest(s) < -0.06 {
				t.Errorf("the float reads %.4f m, want the bottom", largest(s))
			}
		}},
		"float-heavier": {sheet: glycol, fault: "float-heavier=30mm", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			d := difference(bad, good, floatOf)
			want := -30e-3 * bad[len(bad)-1].Time.Sub(start).Seconds() / (365.25 / 12 * 86400)
			if got := d[len(d)-1]; math.Abs(got-want) > 2e-3 {
				t.Errorf("after %v the float reads %.4f m low, want %.4f", bad[len(bad)-1].Time.Sub(start), got, want)
			}
		}},
		"density-wrong": {sheet: glycol, fault: "density-wrong=-6%", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			// A lighter liquid: the float swims deeper and reads low; a radar does not care.
			d := difference(bad, good, floatOf)
			if m := d[len(d)-1]; m > -5e-3 || m < -20e-3 {
				t.Errorf("the float reads %.4f m off, want 5 to 20 mm low", m)
			}
			if m := largest(difference(bad, good, transmitterOf)); math.Abs(m) > 1e-9 {
				t.Errorf("the radar reads %.4f m off", m)
			}
		}},
		"follower-decoupled": {sheet: glycol, fault: "follower-decoupled", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			if s := span(series(bad, floatOf)); s > 5e-3 {
				t.Errorf("the follower moved %.4f m", s)
			}
			for i := range bad {
				if bad[i].Points != good[i].Points {
					t.Fatal("the points changed although the float is sound")
				}
			}
		}},
		"follower-shifted":       {sheet: glycol, fault: "follower-shifted=-20mm", check: constant(floatOf, -20e-3)},
		"transmitter-zero":       {sheet: glycol, fault: "transmitter-zero=20mm", check: constant(transmitterOf, 20e-3)},
		"transmitter-zero of dp": {sheet: dry, fault: "transmitter-zero=20mm", check: dpShift(20e-3)},
		"transmitter-span": {sheet: glycol, fault: "transmitter-span=4%", check: func(t *testing.T, bad, good []gauge.Snapshot, truth []scenario.Truth) {
			for i, d := range difference(bad, good, transmitterOf) {
				if math.Abs(d-0.04*float64(truth[i].Chamber)) > 1e-6 {
					t.Fatalf("at %.3f m the error is %.4f m", truth[i].Chamber, d)
				}
			}
		}},
		"transmitter-drift": {sheet: glycol, fault: "transmitter-drift=30mm", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			d := difference(bad, good, transmitterOf)
			for i := 1; i < len(d); i++ {
				if d[i] <= d[i-1] {
					t.Fatal("the drift is not steady")
				}
			}
		}},
		"transmitter-frozen": {sheet: glycol, fault: "transmitter-frozen", check: func(t *testing.T, bad, _ []gauge.Snapshot, _ []scenario.Truth) {
			if s := span(series(bad, transmitterOf)); s != 0 {
				t.Errorf("the frozen value moved %g m", s)
			}
		}},
		"transmitter-saturated": {sheet: glycol, fault: "transmitter-saturated", check: func(t *testing.T, bad, _ []gauge.Snapshot, _ []scenario.Truth) {
			for _, s := range bad {
				if s.Transmitter.Quality != quantity.Uncertain || s.Transmitter.Reason != quantity.Saturated || s.Transmitter.Value < 1.02 {
					t.Fatalf("reading %+v", s.Transmitter)
				}
			}
		}},
		"transmitter-noise-lost": {sheet: glycol, process: scenario.QuietProcess(), fault: "transmitter-noise-lost", check: func(t *testing.T, bad, good []gauge.Snapshot, truth []scenario.Truth) {
			if q := roughness(bad, truth) / roughness(good, truth); q > 0.5 {
				t.Errorf("the noise fell to %.0f %%, want about 30 %%", 100*q)
			}
		}},
		"transmitter-noisy":       {sheet: glycol, fault: "transmitter-noisy=25mm", check: scattered(transmitterOf, floatOf)},
		"follower-noisy":          {sheet: glycol, fault: "follower-noisy=25mm", check: scattered(floatOf, transmitterOf)},
		"vessel-instrument-noisy": {sheet: glycol, fault: "vessel-instrument-noisy=25mm", check: scattered(vesselOf, floatOf)},
		"radar-foam": {sheet: glycol, fault: "radar-foam", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			d := difference(bad, good, transmitterOf)
			calm := 0
			for _, x := range d {
				if math.Abs(x) < 1e-9 {
					calm++
				}
			}
			if largest(d) < 30e-3 || calm < len(d)/4 {
				t.Errorf("largest lift %.4f m, calm for %d of %d readings", largest(d), calm, len(d))
			}
		}},
		"radar-build-up": {sheet: glycol, fault: "radar-build-up=800mm", check: func(t *testing.T, bad, good []gauge.Snapshot, truth []scenario.Truth) {
			seen := 0
			for i, d := range difference(bad, good, transmitterOf) {
				if truth[i].Chamber > 0.81 && math.Abs(d) > 1e-9 {
					t.Fatal("the deposit is seen although it is covered")
				}
				if d > 0.05 && math.Abs(bad[i].Transmitter.Value-0.8) < 20e-3 {
					seen++
				}
			}
			if seen < len(bad)/10 {
				t.Errorf("the deposit was seen %d times in %d readings", seen, len(bad))
			}
		}},
		// The leg stands on the low side: when it has run empty only the steam in it
		// is left, and dp rises by the weight of the leg.
		"leg-empty": {sheet: drum, process: scenario.DrumProcess(), fault: "leg-empty", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			want := good[0].Transmitter.Value + (990-31)*quantity.StandardGravity*0.8
			if got := bad[0].Transmitter.Value; bad[0].Transmitter.Reason != quantity.Saturated && math.Abs(got-want) > 150 {
				t.Errorf("dp is %.0f Pa, want %.0f", got, want)
			}
		}},
		"leg-partly-filled, wet": {sheet: drum, process: scenario.DrumProcess(), fault: "leg-partly-filled=10%", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			if d, want := difference(bad, good, transmitterOf)[5], 0.1*(990-31)*quantity.StandardGravity*0.8; math.Abs(d-want) > 30 {
				t.Errorf("dp rose by %.0f Pa, want %.0f", d, want)
			}
		}},
		"leg-partly-filled, dry": {sheet: dry, fault: "leg-partly-filled=5%", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			if d, want := difference(bad, good, transmitterOf)[5], -0.05*1052*quantity.StandardGravity; math.Abs(d-want) > 10 {
				t.Errorf("dp fell by %.0f Pa, want %.0f", d, want)
			}
		}},
		"leg-plugged": {sheet: dry, fault: "leg-plugged", check: func(t *testing.T, bad, good []gauge.Snapshot, truth []scenario.Truth) {
			for i, d := range difference(bad, good, transmitterOf) {
				if want := float64(truth[i].Pressure - truth[0].Pressure); bad[i].Transmitter.Reason != quantity.Saturated && math.Abs(d-want) > 1 {
					t.Fatalf("dp is off by %.0f Pa, the pressure moved %.0f Pa", d, want)
				}
			}
		}},
		"displacer-stuck": {sheet: weighed, fault: "displacer-stuck=2m", check: func(t *testing.T, bad, _ []gauge.Snapshot, _ []scenario.Truth) {
			if s := span(series(bad, transmitterOf)); s == 0 || s > 0.03 {
				t.Errorf("the reading moved %.4f m", s)
			}
		}},
		"point-failed": {sheet: glycol, fault: "point-failed/LSH-1", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			changes := 0
			for i := range bad {
				if bad[i].Points[1].Value != bad[0].Points[1].Value {
					t.Fatal("the failed point switched")
				}
				if bad[i].Points[0] != good[i].Points[0] {
					t.Fatal("the other point is changed")
				}
				if good[i].Points[1].Value != good[0].Points[1].Value {
					changes++
				}
			}
			if changes == 0 {
				t.Error("the sound point never switched either: the test shows nothing")
			}
		}},
		"point-widened": {sheet: glycol, fault: "point-widened/LSH-1=20mm", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			late := 0
			for i := range bad {
				if bad[i].Points[1] == good[i].Points[1] {
					continue
				}
				late++
				if math.Abs(good[i].Float.Value-0.765) > 0.03 {
					t.Fatalf("the points differ at %.3f m", good[i].Float.Value)
				}
			}
			if late == 0 {
				t.Error("the point never trips late")
			}
		}},
		"point-shifted": {sheet: glycol, fault: "point-shifted/LSH-1=30mm", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			for i := range bad {
				if bad[i].Points[1] != good[i].Points[1] && math.Abs(good[i].Float.Value-0.765) > 0.03 {
					t.Fatalf("the points differ at %.3f m", good[i].Float.Value)
				}
			}
		}},
		"lower-plugged": {sheet: glycol, fault: "lower-plugged=10m", check: func(t *testing.T, bad, good []gauge.Snapshot, truth []scenario.Truth) {
			if d := largest(difference(bad, good, transmitterOf)); math.Abs(d) < 30e-3 || math.Abs(d) > 0.2 {
				t.Errorf("the chamber lagged %.4f m, want rate times ten minutes", d)
			}
			agree(t, bad, 0.02)
		}},
		"upper-plugged": {sheet: glycol, fault: "upper-plugged", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			if q := span(series(bad, transmitterOf)) / span(series(good, transmitterOf)); q > 0.2 {
				t.Errorf("the chamber still follows the vessel by %.0f %%", 100*q)
			}
			agree(t, bad, 0.02)
		}},
		"chamber-isolated": {sheet: glycol, fault: "chamber-isolated", check: func(t *testing.T, bad, _ []gauge.Snapshot, _ []scenario.Truth) {
			if s := span(series(bad, transmitterOf)); s > 0.02 {
				t.Errorf("the closed chamber moved %.4f m", s)
			}
			agree(t, bad, 0.02)
		}},
		"time-skew": {sheet: glycol, fault: "time-skew=60s", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			// The fastest batch moves 12 mm in a minute; the level wanders as well.
			if d := math.Abs(largest(difference(bad, good, transmitterOf))); d < 5e-3 || d > 25e-3 {
				t.Errorf("the late sample is off by %.4f m at most", d)
			}
		}},
		"signal-lost": {sheet: glycol, fault: "signal-lost/TT-1", check: func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
			for i := range bad {
				if bad[i].Temperature.Quality != quantity.Bad || bad[i].Transmitter != good[i].Transmitter {
					t.Fatalf("temperature %+v", bad[i].Temperature)
				}
			}
		}},
	}
	tested := map[scenario.Kind]bool{}
	for name, row := range rows {
		f, _ := scenario.ParseFault("LG-1:" + row.fault)
		tested[f.Kind] = true
		t.Run(name, func(t *testing.T) {
			if row.process == (scenario.Process{}) {
				row.process = batch
			}
			o := scenario.Options{Process: row.process, Seed: 21}
			bad, good := newUnit(t, row.sheet(), o, row.fault), newUnit(t, row.sheet(), o)
			var b, g []gauge.Snapshot
			var truths []scenario.Truth
			run(t, bad, 20*time.Second, 10*time.Hour, func(s gauge.Snapshot, truth scenario.Truth) {
				h, err := good.Step(s.Time)
				if err != nil {
					t.Fatal(err)
				}
				b, g, truths = append(b, s), append(g, h), append(truths, truth)
			})
			row.check(t, b, g, truths)
		})
	}
	for _, d := range scenario.Kinds() {
		if !tested[d.Kind] {
			t.Errorf("no row tests %s", d.Kind)
		}
	}
}

// dpShift demands the pressure of a level shift.
func dpShift(metres float64) func(*testing.T, []gauge.Snapshot, []gauge.Snapshot, []scenario.Truth) {
	return func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
		want := 1052 * quantity.StandardGravity * metres
		for _, d := range difference(bad, good, transmitterOf) {
			if math.Abs(d-want) > 0.03*want {
				t.Fatalf("dp rose by %.1f Pa, want %.1f", d, want)
			}
		}
	}
}

// roughness is the mean square of what the radar says beyond the truth,
// differenced once.
func roughness(s []gauge.Snapshot, truth []scenario.Truth) float64 {
	sum := 0.0
	for i := 1; i < len(s); i++ {
		now := s[i].Transmitter.Value - float64(truth[i].Chamber)
		before := s[i-1].Transmitter.Value - float64(truth[i-1].Chamber)
		sum += (now - before) * (now - before)
	}
	return math.Sqrt(sum / float64(len(s)-1))
}

// agree demands that float and radar still tell one story.
func agree(t *testing.T, s []gauge.Snapshot, within float64) {
	t.Helper()
	for i := range s {
		if d := s[i].Float.Value - s[i].Transmitter.Value; math.Abs(d) > within {
			t.Fatalf("float and radar differ by %.4f m although only the chamber is ill", d)
		}
	}
}

func TestFaultThatCannotHappenIsRefused(t *testing.T) {
	rows := map[string]struct {
		sheet func() *datasheet.Sheet
		fault string
		says  string
	}{
		"transmitter without one":     {bare, "LG-5:transmitter-zero", "no such transmitter"},
		"foam without radar":          {dry, "LG-3:radar-foam", "no radar"},
		"wet leg on a dry one":        {dry, "LG-3:leg-empty", "no wet leg"},
		"leg on a radar":              {glycol, "LG-1:leg-plugged", "no leg"},
		"displacer on a radar":        {glycol, "LG-1:displacer-stuck", "no displacer"},
		"unknown point":               {glycol, "LG-1:point-failed/LSH-9", `no instrument "LSH-9"`},
		"point fault at the float":    {glycol, "LG-1:point-failed/LI-1", "no such point"},
		"float without a follower":    {visual, "LG-6:float-stuck", "no follower"},
		"point fault without a point": {visual, "LG-6:point-failed", "no such point"},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			f, err := scenario.ParseFault(row.fault)
			if err != nil {
				t.Fatal(err)
			}
			_, err = scenario.New(row.sheet(), scenario.Options{Faults: []scenario.Fault{f}, Start: start})
			var refused *scenario.FaultError
			if !errors.As(err, &refused) || !strings.Contains(err.Error(), row.says) {
				t.Errorf("error %v, want one that says %q", err, row.says)
			}
		})
	}
}

// visual is a gauge with a visual indicator and a radar, and no points.
func visual() *datasheet.Sheet {
	s := glycol()
	s.Tag, s.Float.Follower, s.Points = "LG-6", datasheet.NoFollower, nil
	return s
}

func TestParseFault(t *testing.T) {
	month := 365.25 / 12 * 86400.0
	rows := map[string]struct {
		text string
		want scenario.Fault
	}{
		"plain":              {"LG-101:float-stuck", scenario.Fault{Gauge: "LG-101", Kind: scenario.FloatStuck}},
		"delay":              {"LG-101:float-stuck@90s", scenario.Fault{Gauge: "LG-101", Kind: scenario.FloatStuck, Delay: 90 * time.Second}},
		"delay in days":      {"LG-101:float-stuck@1.5d", scenario.Fault{Gauge: "LG-101", Kind: scenario.FloatStuck, Delay: 36 * time.Hour}},
		"size and delay":     {"LG-101:transmitter-zero=20mm@2h", scenario.Fault{Gauge: "LG-101", Kind: scenario.TransmitterZero, Size: 0.020, Delay: 2 * time.Hour}},
		"size in inches":     {"LG-101:transmitter-zero=-1in", scenario.Fault{Gauge: "LG-101", Kind: scenario.TransmitterZero, Size: -0.0254}},
		"percentage":         {"LG-101:transmitter-span=2%", scenario.Fault{Gauge: "LG-101", Kind: scenario.TransmitterSpan, Size: 0.02}},
		"rate":               {"LG-101:transmitter-drift=30mm", scenario.Fault{Gauge: "LG-101", Kind: scenario.TransmitterDrift, Size: 0.030 / month}},
		"rate spelled out":   {"LG-101:float-heavier=12mm/month", scenario.Fault{Gauge: "LG-101", Kind: scenario.FloatHeavier, Size: 0.012 / month}},
		"duration":           {"LG-101:lower-plugged=3m", scenario.Fault{Gauge: "LG-101", Kind: scenario.LowerPlugged, Size: 180}},
		"point":              {"LG-101:point-failed/LSH-101", scenario.Fault{Gauge: "LG-101", Kind: scenario.PointFailed, Part: "LSH-101"}},
		"point, size, delay": {"LG-101:point-shifted/LSH-101=-30mm@5m", scenario.Fault{Gauge: "LG-101", Kind: scenario.PointShifted, Part: "LSH-101", Size: -0.030, Delay: 5 * time.Minute}},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			got, err := scenario.ParseFault(row.text)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got.Size-row.want.Size) > 1e-15 {
				t.Errorf("size %g, want %g", got.Size, row.want.Size)
			}
			got.Size = row.want.Size
			if got != row.want {
				t.Errorf("got %+v, want %+v", got, row.want)
			}
		})
	}
}

func TestParseFaultRefuses(t *testing.T) {
	rows := map[string]struct{ text, says string }{
		"no kind":            {"LG-101", "want TAG:KIND"},
		"no tag":             {":float-stuck", "want TAG:KIND"},
		"unknown kind":       {"LG-101:float-lost", "the kinds are float-stuck"},
		"delay not a time":   {"LG-101:float-stuck@soon", "delay"},
		"delay in the past":  {"LG-101:float-stuck@-5m", "delay"},
		"size of no kind":    {"LG-101:float-stuck=3mm", "has no size"},
		"size without unit":  {"LG-101:transmitter-zero=20", "no unit"},
		"percentage missing": {"LG-101:transmitter-span=2", "percentage"},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			_, err := scenario.ParseFault(row.text)
			var refused *scenario.FaultError
			if !errors.As(err, &refused) || !strings.Contains(err.Error(), row.says) {
				t.Errorf("error %v, want one that says %q", err, row.says)
			}
		})
	}
}

func TestIntermittentFaultGoesAway(t *testing.T) {
	f := scenario.Fault{Gauge: "LG-1", Kind: scenario.TransmitterZero, Size: 0.05, Delay: time.Hour, For: time.Hour}
	o := scenario.Options{Process: brisk(), Seed: 2, Faults: []scenario.Fault{f}}
	bad, good := newUnit(t, glycol(), o), newUnit(t, glycol(), scenario.Options{Process: brisk(), Seed: 2})
	run(t, bad, time.Minute, 4*time.Hour, func(s gauge.Snapshot, truth scenario.Truth) {
		h, _ := good.Step(s.Time)
		since := s.Time.Sub(start)
		on := since >= time.Hour && since < 2*time.Hour
		if changed := s != h; changed != on || on != (len(truth.Faults) == 1) {
			t.Fatalf("after %v: changed %v, truth names %v", since, changed, truth.Faults)
		}
	})
}

// scattered demands that one instrument scatters by 25 mm about what it would
// read, and that another and the points read as if nothing were.
func scattered(of, other func(*gauge.Snapshot) float64) func(*testing.T, []gauge.Snapshot, []gauge.Snapshot, []scenario.Truth) {
	return func(t *testing.T, bad, good []gauge.Snapshot, _ []scenario.Truth) {
		d, sum, squares := difference(bad, good, of), 0.0, 0.0
		for _, x := range d {
			sum, squares = sum+x, squares+x*x
		}
		n := float64(len(d))
		if mean, sd := sum/n, math.Sqrt(squares/n); math.Abs(mean) > 2e-3 || math.Abs(sd-25e-3) > 2e-3 {
			t.Errorf("mean %.4f m, standard deviation %.4f m, want 0 and 0.025", mean, sd)
		}
		if m := span(difference(bad, good, other)); m != 0 {
			t.Errorf("the other level changed by %.4f m", m)
		}
		for i := range bad {
			if bad[i].Points != good[i].Points {
				t.Fatal("the points changed although the float is sound")
			}
		}
	}
}
