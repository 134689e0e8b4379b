package gauge_test

import (
	"math"
	"strings"
	"testing"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

func TestPoints(t *testing.T) {
	m := model(t, drum()) // LSL 150 mm by float, LSH 650 mm by liquid, 10 mm differential each
	var in gauge.Snapshot
	for _, step := range []struct {
		level quantity.Length
		want  [2]gauge.Switch
	}{
		{0.100, [2]gauge.Switch{gauge.Dry, gauge.Dry}},
		{0.640, [2]gauge.Switch{gauge.Wet, gauge.Dry}},
		{0.653, [2]gauge.Switch{gauge.Wet, gauge.Dry}}, // within the differential, rising
		{0.656, [2]gauge.Switch{gauge.Wet, gauge.Wet}},
		{0.647, [2]gauge.Switch{gauge.Wet, gauge.Wet}}, // within the differential, falling
		{0.644, [2]gauge.Switch{gauge.Wet, gauge.Dry}},
	} {
		if err := m.Indicate(&gauge.Truth{ChamberLevel: step.level, VesselLevel: step.level}, &in); err != nil {
			t.Fatal(err)
		}
		out := measured(m, in)
		if got := [2]gauge.Switch{out.Points[0], out.Points[1]}; got != step.want {
			t.Errorf("at %g mm: %v, want %v", step.level.Millimetres(), got, step.want)
		}
	}
	in.Points[0] = quantity.Reading{Quality: quantity.Bad}
	if out := measured(m, in); out.Points[0] != gauge.Unknown {
		t.Errorf("bad contact: %v, want unknown", out.Points[0])
	}
}

// A magnet-operated switch follows the float, wrong density and all.
func TestFloatSwitchFollowsTheFloat(t *testing.T) {
	m := model(t, drum())
	truth := gauge.Truth{ChamberLevel: 0.3, VesselLevel: 0.3, FloatHeld: true, HeldAt: 0.05}
	var in gauge.Snapshot
	if err := m.Indicate(&truth, &in); err != nil {
		t.Fatal(err)
	}
	out := measured(m, in)
	if out.Points[0] != gauge.Dry || math.Abs(float64(out.Magnet-0.05)) > 1e-15 {
		t.Errorf("float held at 50 mm: switch at 150 mm %v, magnet at %g mm", out.Points[0], out.Magnet.Millimetres())
	}
}

// A float that gains mass reads low by the same amount everywhere (case F1f:
// 10 g on a float of 50 mm in 1000 kg/m³ sink it by 5.092958 mm); one that
// gains too much lies on the bottom.
func TestHeavierFloat(t *testing.T) {
	s := solvent()
	s.Fluid.BaseDensity, s.Fluid.Expansion, s.Fluid.Vapour = 1000, 0, datasheet.Vapour{}
	s.Fluid.Model = datasheet.Constant
	s.DesignSG, s.SGMin, s.SGMax = 1, 0.99, 1.01
	s.Float.BuiltFor, s.Float.EndShape, s.Float.Mass, s.Float.Length = 1000, datasheet.Hemispherical, 0.229074464324, mm(250)
	m := model(t, s)
	for _, h := range []quantity.Length{0.4, 1.2} {
		var in gauge.Snapshot
		if err := m.Indicate(&gauge.Truth{ChamberLevel: h, VesselLevel: h, FloatGained: 0.010}, &in); err != nil {
			t.Fatal(err)
		}
		out := measured(m, in)
		if gap := out.Float.Value - h; math.Abs(gap.Millimetres()+5.092958) > 1e-6 {
			t.Errorf("at %g mm the float reads %.6f mm off, want -5.092958", h.Millimetres(), gap.Millimetres())
		}
	}
	var in gauge.Snapshot
	if err := m.Indicate(&gauge.Truth{ChamberLevel: 1, VesselLevel: 1, FloatGained: 0.5}, &in); err != nil {
		t.Fatal(err)
	}
	// Bottom of the float at −300 mm, immersion it was built for 125 mm.
	if got := in.Float.Value; math.Abs(got+0.175) > 1e-9 {
		t.Errorf("sunk float indicates %.9f m, want -0.175", got)
	}
}

// A float of 316 grows with the chamber: at 205.358 °C by 16.8e-6 · 185.358 in
// every length, so it swims like one made that much larger, and a gauge that
// did not know would read high.
func TestFloatGrows(t *testing.T) {
	s := drum()
	s.Float.Material = "316L"
	m := model(t, s)
	in := half(t, m)
	knows := measured(m, in)
	s.Float.Material = ""
	ignores := measured(model(t, s), in)
	k := 1 + 16.8e-6*(knows.ChamberTempUsed.Celsius()-20)
	larger, err := buoyancy.New(0.62, mm(60*k), mm(420*k), buoyancy.Hemisphere)
	if err != nil {
		t.Fatal(err)
	}
	as, err := buoyancy.New(0.62, mm(60), mm(420), buoyancy.Hemisphere)
	if err != nil {
		t.Fatal(err)
	}
	warm, _ := larger.Immersion(knows.Liquid, knows.Gas)
	cold, _ := as.Immersion(knows.Liquid, knows.Gas)
	if got := ignores.Float.Value - knows.Float.Value; math.Abs(float64(got-(cold-warm))) > 1e-12 || got.Millimetres() < 1 {
		t.Errorf("growth moves the reading by %.4f mm, want %.4f", got.Millimetres(), (cold - warm).Millimetres())
	}
}

// A chamber too short for its float: on the bottom, and at the top, it says
// nothing, though its indication alone would look like a level.
func TestFloatAtItsStops(t *testing.T) {
	s := solvent()
	s.Chamber.BelowLowerTap, s.Chamber.AboveUpperTap = mm(60), mm(40)
	m := model(t, s)
	for _, c := range []struct {
		level quantity.Length
		want  level.Bound
	}{{0.03, level.None}, {0.8, level.Within}, {1.58, level.None}} {
		var in gauge.Snapshot
		if err := m.Indicate(&gauge.Truth{ChamberLevel: c.level, VesselLevel: c.level}, &in); err != nil {
			t.Fatal(err)
		}
		out := measured(m, in)
		if out.Float.Bound != c.want || (c.want == level.None && out.Float.Reason != quantity.OutOfRange) {
			t.Errorf("at %v mm: %v because %q, want %v", c.level.Millimetres(), out.Float.Bound, out.Float.Reason, c.want)
		}
		if !out.MagnetOK {
			t.Errorf("at %v mm: no magnet", c.level.Millimetres())
		}
	}
}

// A liquid too light for the float is a reason, and the explanation says which.
func TestSunkFloatIsExplained(t *testing.T) {
	s := solvent()
	s.Fluid.Model, s.Fluid.BaseDensity, s.Fluid.Expansion = datasheet.Constant, 470, 0
	s.Float.BuiltFor = 790
	m := model(t, s)
	in := half(t, m)
	out := measured(m, in)
	if out.Float.Bound != level.None || out.Float.Reason != quantity.ConversionFailed || !(out.FloatReserve < 1) {
		t.Errorf("float %v because %v, reserve %v", out.Float.Bound, out.Float.Reason, out.FloatReserve)
	}
	e, err := m.Explain(&in, gauge.TheFloat)
	if err != nil || !strings.Contains(e.Text(), "float sinks") {
		t.Errorf("%v\n%s", err, e.Text())
	}
}
