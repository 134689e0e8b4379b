package gauge_test

import (
	"math"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

func TestDisplacerOffItsLength(t *testing.T) {
	s := solvent()
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-9", Principle: datasheet.Displacer, CalibratedFor: 790, DisplacerLength: 0.8, DisplacerBottom: 0.4}
	m := model(t, s)
	for _, c := range []struct {
		name string
		at   quantity.Length
		want level.Bound
		why  quantity.Reason
	}{
		{"on it", 0.8, level.Within, quantity.NoReason},
		{"below it", 0.3, level.None, quantity.OutOfRange},
		{"above it", 1.4, level.None, quantity.OutOfRange},
	} {
		t.Run(c.name, func(t *testing.T) {
			var in gauge.Snapshot
			if err := m.Indicate(&gauge.Truth{ChamberLevel: c.at, VesselLevel: c.at}, &in); err != nil {
				t.Fatal(err)
			}
			out := measured(m, in)
			if out.Transmitter.Bound != c.want || (c.why != 0 && out.Transmitter.Reason != c.why) {
				t.Errorf("%v because %q, want %v because %q", out.Transmitter.Bound, out.Transmitter.Reason, c.want, c.why)
			}
		})
	}
}

// An empty wet leg: the cell reads the column alone.
func TestLegLost(t *testing.T) {
	s := drum()
	s.Transmitter.Swapped = false
	m := model(t, s)
	truth := gauge.Truth{ChamberLevel: 0.4, VesselLevel: 0.4}
	column, _, err := m.Columns(&truth)
	if err != nil {
		t.Fatal(err)
	}
	var sound, empty gauge.Snapshot
	if err := m.Indicate(&truth, &sound); err != nil {
		t.Fatal(err)
	}
	truth.LegLost = 1
	if err := m.Indicate(&truth, &empty); err != nil {
		t.Fatal(err)
	}
	want := quantity.StandardGravity * 0.8 * float64(992-column.Gas)
	if got := empty.Transmitter.Value - sound.Transmitter.Value; math.Abs(got-want) > 1e-6 {
		t.Errorf("empty leg raises dp by %.6f Pa, want %.6f", got, want)
	}
}

// Legs 60 K warmer than the data sheet says, 5e-4 per kelvin: the level reads
// high by H ρr β dT/(1 + β dT)/(ρL − ρV).
func TestWarmLegs(t *testing.T) {
	s := drum()
	s.Transmitter.LegExpansion = 5e-4
	m := model(t, s)
	truth := gauge.Truth{ChamberLevel: 0.4, VesselLevel: 0.4, LegTemperature: celsius(100)}
	column, _, err := m.Columns(&truth)
	if err != nil {
		t.Fatal(err)
	}
	var in gauge.Snapshot
	if err := m.Indicate(&truth, &in); err != nil {
		t.Fatal(err)
	}
	out := measured(m, in)
	want := 0.8 * 992 * (1 - 1/1.03) / float64(column.Liquid-column.Gas)
	if got := float64(out.Transmitter.Value) - 0.4; math.Abs(got-want) > 1e-9 {
		t.Errorf("reads %.6f m high, want %.6f", got, want)
	}
}

// A dp cell at the equator and one that was told nothing of it: levels of a dry
// leg are proportional to 1/g.
func TestLocalGravity(t *testing.T) {
	s := solvent()
	s.Fluid.Vapour = datasheet.Vapour{}
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.DPDry}
	s.Gravity = 9.780
	there := model(t, s)
	in := half(t, there)
	s.Gravity = 0
	told := measured(model(t, s), in).Transmitter.Value
	knows := measured(there, in).Transmitter.Value
	if got, want := float64(told/knows), 9.780/9.80665; math.Abs(got-want) > 1e-12 {
		t.Errorf("ratio of levels %.9f, want %.9f", got, want)
	}
	// A compensated device was told standard gravity, whatever the place.
	s.Transmitter.Compensated, s.Transmitter.CalibratedFor, s.Gravity = true, 790, 9.780
	m := model(t, s)
	in = half(t, m)
	if out := measured(m, in); math.Abs(float64(out.Transmitter.Value-out.Float.Value)) > 1e-12 {
		t.Errorf("compensated %v m, float %v m", float64(out.Transmitter.Value), float64(out.Float.Value))
	}
}

// A second transmitter of another principle is a third opinion, with its own
// accuracy in one place.
func TestSecondTransmitter(t *testing.T) {
	s := drum()
	s.Second = &datasheet.Transmitter{Tag: "LT-103", Principle: datasheet.Radar, Chamber: "secondary", ReferencePoint: 1.1, U: mm(3)}
	m := model(t, s)
	out := measured(m, half(t, m))
	if !out.Second.OK() || math.Abs(float64(out.Second.Value-out.Transmitter.Value)) > 1e-9 || out.Second.Basis != level.ByTimeFlight {
		t.Errorf("second %v m %v by %v, transmitter %v m", float64(out.Second.Value), out.Second.Bound, out.Second.Basis, float64(out.Transmitter.Value))
	}
	for _, p := range []gauge.Pair{gauge.FloatSecond, gauge.TransmitterSecond} {
		if g := out.Gaps[p]; !g.OK || !(g.U > 0) || g.Ratio() > 1e-6 {
			t.Errorf("%v: %+v", p, g)
		}
	}
	s.Vessel = &datasheet.Vessel{Tag: "LT-104", U: mm(5)}
	s.Limits.Gap = mm(2)
	of := model(t, s)
	out = measured(of, half(t, of))
	// The user's limit is one between instruments of the chamber.
	if g := out.Gaps[gauge.VesselSecond]; !g.OK || g.Budget <= mm(5) || g.Ratio() > 1e-6 || g.Value != out.Vessel.Value-out.Second.Value {
		t.Errorf("%v: %+v", gauge.VesselSecond, g)
	}
	if out.Second.Parts[level.TransmitterDevice] != 0 || out.Second.Parts[level.SecondDevice] == 0 {
		t.Errorf("parts of the second: %v", out.Second.Parts)
	}
	if out.Second.Parts[level.TapElevation] != 0 {
		t.Error("a second chamber has its own scale, and shares none with the first")
	}
	e, err := m.Explain(ptr(half(t, m)), gauge.TheSecond)
	if err != nil || e.Tag != "LT-103" || math.Abs(e.Level-out.Second.Value.Millimetres()) > 1e-9 {
		t.Errorf("explained: %+v, %v", e, err)
	}
	in := half(t, m)
	in.Isolated = true
	if g := measured(m, in).Gaps[gauge.TransmitterSecond]; g.OK || g.Reason != quantity.Maintenance {
		t.Errorf("isolated, one inside and one outside: %+v", g)
	}
}

func ptr[T any](v T) *T { return &v }

// A displacer that reaches a tap says at which one the level is.
func TestDisplacerAtATap(t *testing.T) {
	s := solvent()
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-9", Principle: datasheet.Displacer, DisplacerLength: 1.8, DisplacerBottom: -0.1, DisplacerArea: 1e-3, DisplacerMass: 4}
	m := model(t, s)
	for h, want := range map[quantity.Length]level.Bound{-0.3: level.BelowLowerTap, -0.05: level.BelowLowerTap, 0.7: level.Within, 1.65: level.AboveUpperTap, 1.75: level.AboveUpperTap} {
		var in gauge.Snapshot
		if err := m.Indicate(&gauge.Truth{ChamberLevel: h, VesselLevel: h}, &in); err != nil {
			t.Fatal(err)
		}
		if out := measured(m, in); out.Transmitter.Bound != want {
			t.Errorf("at %v m: %v, want %v", float64(h), out.Transmitter.Bound, want)
		}
	}
}
