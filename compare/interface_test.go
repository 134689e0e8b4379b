package compare_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

// onInterface is water under oil, with a float, a radar and, when weighed, a dp.
func onInterface(weighed bool) datasheet.Sheet {
	for _, m := range scenario.Makes() {
		if m.Name == "interface, radar, points" {
			s := *m.Sheet()
			s.Points = nil
			if weighed {
				s.Second = &datasheet.Transmitter{Tag: "LT-2", Principle: datasheet.DPDry, Chamber: "same", U: 2e-3, UPressure: 8}
			}
			return s
		}
	}
	panic("no interface among the makes")
}

// between evaluates the readings of an interface whose upper liquid changes its
// density by a share and whose radar is lifted, metres, from an onset on.
func between(t *testing.T, sheet datasheet.Sheet, upper, lift float64) *cause.Finding {
	t.Helper()
	g, err := compare.New(sheet)
	if err != nil {
		t.Fatal(err)
	}
	m, err := gauge.New(sheet)
	if err != nil {
		t.Fatal(err)
	}
	const onset = 20 * 86400
	var st compare.State
	var open []cause.Finding
	for s := 0; s < onset+4*86400; s += 60 {
		now := began.Add(time.Duration(s) * time.Second)
		h := wander(3)(float64(s)) / 1e3 * 0.8
		world := gauge.Truth{Pressure: sheet.OperatingPressure, Temperature: sheet.OperatingTemp, ChamberTemperature: sheet.OperatingTemp - 3, Composition: 1}
		world.ChamberLevel, world.VesselLevel = quantity.Length(h), quantity.Length(h)
		if s > onset {
			world.UpperComposition = upper
		}
		in := gauge.Snapshot{Time: now}
		if err := m.Indicate(&world, &in); err != nil {
			t.Fatal(err)
		}
		in.Time = now
		wave := 0.6e-3 * math.Sin(float64(s)*0.37)
		in.Float.Value += wave
		if s > onset {
			in.Transmitter.Value += lift
		}
		r := g.Evaluate(now, &in, &st)
		if s < onset && len(r.Findings) > 0 && r.Findings[0].Tier == cause.Alert {
			t.Fatalf("alert while nothing is wrong: %s", r.Findings[0].Sentence)
		}
		open = r.Findings
	}
	if len(open) == 0 || open[0].Tier != cause.Alert {
		t.Fatalf("no alert: %+v", open)
	}
	f := open[0]
	t.Logf("%s / %s: %s %v", f.Cause, f.Suspect, f.Sentence, f.Set)
	return &f
}

// An upper liquid of another density shifts float and dp, each by its own
// measure, and leaves the radar.
func TestUpperLiquidOfAnotherDensity(t *testing.T) {
	for _, share := range []float64{0.96, 1.04} {
		sheet := onInterface(true)
		if f := between(t, sheet, share, 0); f.Suspect != cause.Density || f.Cause != cause.UpperDensityWrong {
			t.Errorf("%g of the density: %s (%s)", share, f.Cause, f.Suspect)
		}
	}
}

// An emulsion lifts the radar's echo to its top: that may be the radar as well,
// which is said of this set of instruments beforehand.
func TestEmulsion(t *testing.T) {
	sheet := onInterface(true)
	f := between(t, sheet, 1, 0.07)
	if !names(f.Set, cause.Emulsion) || f.Suspect != cause.Undecided {
		t.Errorf("%s (%s)", f.Cause, f.Suspect)
	}
	if tests := cause.Settle(f.Set); !slices.ContainsFunc(tests, func(x cause.Test) bool { return x.Name == "take samples across the interface" }) {
		t.Errorf("nothing settles it: %+v", tests)
	}
	g, err := compare.New(sheet)
	if err != nil {
		t.Fatal(err)
	}
	var st compare.State
	ids := map[string]bool{}
	for _, b := range g.Blind(began, &st) {
		ids[b.ID] = true
	}
	if !ids["emulsion"] || ids["upper-density"] {
		t.Errorf("radar and dp beside the float: %v", ids)
	}
}
