package gauge_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

func model(t testing.TB, s datasheet.Sheet) *gauge.Model {
	t.Helper()
	m, err := gauge.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// half is a snapshot of a gauge half full with everything sound.
func half(t testing.TB, m *gauge.Model) gauge.Snapshot {
	t.Helper()
	s := m.Sheet()
	truth := gauge.Truth{Time: time.Unix(1_700_000_000, 0), VesselLevel: s.Chamber.CentreToCentre / 2}
	if err := m.Settle(&truth); err != nil {
		t.Fatal(err)
	}
	var in gauge.Snapshot
	if err := m.Indicate(&truth, &in); err != nil {
		t.Fatal(err)
	}
	return in
}

func measured(m *gauge.Model, in gauge.Snapshot) gauge.Measurement {
	var out gauge.Measurement
	m.Measure(&in, &out)
	return out
}

// A drum at 10 MPa whose chamber is at 211 °C: 394.347 mm in the chamber are
// 499.993 mm in the drum (IF97, see package vessel).
func TestDrumLevelBesideGaugeGlass(t *testing.T) {
	s := drum()
	s.Chamber.CentreToCentre = 1
	s.MaxPressure = bar(110)
	m := model(t, s)
	truth := gauge.Truth{ChamberLevel: 0.394347, VesselLevel: 0.499993, Pressure: bar(100), ChamberTemperature: celsius(211)}
	var in gauge.Snapshot
	if err := m.Indicate(&truth, &in); err != nil {
		t.Fatal(err)
	}
	out := measured(m, in)
	if got := out.Float.Value.Millimetres(); math.Abs(got-394.347) > 1e-6 {
		t.Errorf("chamber %.6f mm, want 394.347", got)
	}
	if got := out.InVessel.Value.Millimetres(); math.Abs(got-499.993) > 1e-3 {
		t.Errorf("drum %.4f mm, want 499.993", got)
	}
	if got := out.TemperatureUsed.Celsius(); math.Abs(got-310.999) > 1e-3 {
		t.Errorf("boiling at %.4f °C, want 310.999", got)
	}
	if out.Assumed {
		t.Error("a boiling drum with a pressure transmitter needs no assumed temperature")
	}
	if !(out.InVessel.U() > out.Float.U()) {
		t.Errorf("drum level u %v m is not larger than the chamber's %v m", float64(out.InVessel.U()), float64(out.Float.U()))
	}
}

func drumWithThermometer() datasheet.Sheet {
	s := drum()
	s.Temperature = &datasheet.Instrument{Tag: "TT-102"}
	return s
}

// A missing or refused reading ends as a typed reason, never as a number.
func TestReasons(t *testing.T) {
	bad := func(r quantity.Reason) quantity.Reading {
		return quantity.Reading{Value: 0.4, Quality: quantity.Bad, Reason: r}
	}
	for _, c := range []struct {
		name  string
		sheet datasheet.Sheet
		spoil func(*gauge.Snapshot)
		of    func(*gauge.Measurement) *level.Level
		bound level.Bound
		why   quantity.Reason
	}{
		{"float never read", drum(), func(s *gauge.Snapshot) { s.Float = quantity.Reading{} },
			func(m *gauge.Measurement) *level.Level { return &m.Float }, level.None, quantity.NotRead},
		{"float in fault", drum(), func(s *gauge.Snapshot) { s.Float = bad(quantity.SensorFault) },
			func(m *gauge.Measurement) *level.Level { return &m.Float }, level.None, quantity.SensorFault},
		{"transmitter stale", drum(), func(s *gauge.Snapshot) {
			s.Transmitter = quantity.Reading{Quality: quantity.Stale, Reason: quantity.TooOld}
		},
			func(m *gauge.Measurement) *level.Level { return &m.Transmitter }, level.None, quantity.TooOld},
		{"no second transmitter", drum(), func(*gauge.Snapshot) {},
			func(m *gauge.Measurement) *level.Level { return &m.Second }, level.None, quantity.NotRead},
		{"pressure beyond the water formulation", drum(), func(s *gauge.Snapshot) { s.Pressure.Value = 5e9 },
			func(m *gauge.Measurement) *level.Level { return &m.Float }, level.None, quantity.ConversionFailed},
		{"float at the lower tap", drum(), func(s *gauge.Snapshot) { s.Float.Value = -0.2 },
			func(m *gauge.Measurement) *level.Level { return &m.Float }, level.BelowLowerTap, quantity.NoReason},
		{"float above the upper tap", drum(), func(s *gauge.Snapshot) { s.Float.Value = 1.2 },
			func(m *gauge.Measurement) *level.Level { return &m.Float }, level.AboveUpperTap, quantity.NoReason},
		{"float says no number", drum(), func(s *gauge.Snapshot) { s.Float.Value = math.NaN() },
			func(m *gauge.Measurement) *level.Level { return &m.Float }, level.None, quantity.NotANumber},
		{"vessel below the lower tap", drum(), func(s *gauge.Snapshot) { s.Vessel.Value = 0.1 },
			func(m *gauge.Measurement) *level.Level { return &m.Vessel }, level.BelowLowerTap, quantity.NoReason},
		{"surface in the radar's dead zone", solvent(), func(s *gauge.Snapshot) { s.Transmitter.Value = 1.85 },
			func(m *gauge.Measurement) *level.Level { return &m.Transmitter }, level.None, quantity.OutOfRange},
		{"isolated", drum(), func(s *gauge.Snapshot) { s.Isolated = true },
			func(m *gauge.Measurement) *level.Level { return &m.InVessel }, level.None, quantity.Maintenance},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := model(t, c.sheet)
			in := half(t, m)
			c.spoil(&in)
			out := measured(m, in)
			l := c.of(&out)
			if l.Bound != c.bound || l.Reason != c.why || l.Value != 0 || l.U() != 0 {
				t.Errorf("%v because %q, value %v u %v; want %v because %q", l.Bound, l.Reason, float64(l.Value), float64(l.U()), c.bound, c.why)
			}
			finite(t, &out)
		})
	}
}

// finite checks that no field of a measurement is NaN or infinite.
func finite(t *testing.T, out *gauge.Measurement) {
	t.Helper()
	for name, v := range map[string]float64{
		"float": float64(out.Float.Value), "transmitter": float64(out.Transmitter.Value), "in vessel": float64(out.InVessel.Value),
		"liquid": float64(out.Liquid), "gas": float64(out.Gas), "ratio": out.DensityRatio, "reserve": out.FloatReserve,
		"gap": float64(out.Gaps[gauge.FloatTransmitter].Value), "u": float64(out.Gaps[gauge.FloatTransmitter].U),
		"pressure": float64(out.PressureUsed), "temperature": float64(out.TemperatureUsed), "magnet": float64(out.Magnet),
	} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Errorf("%s is %v", name, v)
		}
	}
}

// A pressure that is no number is as good as none: the data sheet stands in.
func TestPressureOfNothing(t *testing.T) {
	m := model(t, drum())
	in := half(t, m)
	in.Pressure.Value = math.NaN()
	out := measured(m, in)
	if !out.Float.OK() || !out.Assumed || out.PressureUsed != bar(40) {
		t.Errorf("float %v, assumed %v, pressure %v bar; want within, assumed, 40 bar", out.Float.Bound, out.Assumed, out.PressureUsed.Bar())
	}
	finite(t, &out)
}

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

func TestOutsideDataSheet(t *testing.T) {
	for _, c := range []struct {
		name  string
		sheet datasheet.Sheet
		spoil func(*datasheet.Sheet, *gauge.Snapshot)
		what  string
	}{
		{"over pressure", drum(), func(_ *datasheet.Sheet, in *gauge.Snapshot) { in.Pressure.Value = 70e5 }, "pressure"},
		{"over the float's pressure", drum(), func(s *datasheet.Sheet, _ *gauge.Snapshot) { s.Float.MaxPressure = bar(35) }, "float pressure"},
		{"over temperature", solvent(), func(_ *datasheet.Sheet, in *gauge.Snapshot) { in.Temperature.Value = 400 }, "temperature"},
		{"lighter than the range in service", solvent(), func(s *datasheet.Sheet, _ *gauge.Snapshot) { s.SGMin, s.DesignSG, s.SGMax = 0.8, 0.85, 0.9 }, "specific gravity"},
		{"liquid hotter than boiling", drumWithThermometer(), func(_ *datasheet.Sheet, in *gauge.Snapshot) { in.Temperature.Value += 8 }, "pressure against temperature"},
		{"float near sinking", solvent(), func(s *datasheet.Sheet, _ *gauge.Snapshot) { s.Float.Mass = 0.33 }, "float reserve"},
		{"float between two liquids near sinking", separator(), func(s *datasheet.Sheet, _ *gauge.Snapshot) { s.Float.Mass = 0.465 }, "float reserve"},
		{"radar blind", solvent(), func(_ *datasheet.Sheet, in *gauge.Snapshot) { in.Transmitter.Value = 1.85 }, "radar blind zone"},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := half(t, model(t, c.sheet))
			s := c.sheet
			c.spoil(&s, &in)
			out := measured(model(t, s), in)
			var whats []string
			for _, l := range out.OutsideDataSheet {
				whats = append(whats, l.What)
				if l.Sentence == "" {
					t.Errorf("%s: no sentence", l.What)
				}
			}
			if len(whats) != 1 || whats[0] != c.what {
				t.Errorf("outside in %q, want %q", whats, c.what)
			}
		})
	}
	for _, s := range []datasheet.Sheet{drum(), solvent(), separator(), caustic()} {
		if out := measured(model(t, s), half(t, model(t, s))); out.OutsideDataSheet != nil {
			t.Errorf("sound gauge %s: %v", s.Tag, out.OutsideDataSheet)
		}
	}
}

// Shared inputs cancel: the gap's uncertainty is smaller than the root of the
// sum of squares, and a user's limit takes the place of the budget.
func TestGapCovariance(t *testing.T) {
	s := solvent()
	m := model(t, s)
	out := measured(m, half(t, m))
	g := out.Gaps[gauge.FloatTransmitter]
	apart := math.Hypot(float64(out.Float.U()), float64(out.Transmitter.U()))
	if !g.OK || !(float64(g.U) < apart) {
		t.Errorf("gap u %v mm, independent %v mm", g.U.Millimetres(), 1e3*apart)
	}
	shared := out.Float.Parts[level.TapElevation]
	if shared == 0 || shared != out.Transmitter.Parts[level.TapElevation] {
		t.Errorf("tap elevation of float and radar on one chamber: %v and %v", shared, out.Transmitter.Parts[level.TapElevation])
	}
	s.Limits.Gap = mm(12)
	if g := measured(model(t, s), half(t, m)).Gaps[gauge.FloatTransmitter]; g.Budget != mm(12) {
		t.Errorf("budget %v mm, want the user's 12", g.Budget.Millimetres())
	}
	s.Limits.CommonRange = [2]quantity.Length{0.1, 0.5}
	if g := measured(model(t, s), half(t, m)).Gaps[gauge.FloatTransmitter]; g.OK || g.Reason != quantity.OutOfRange {
		t.Errorf("outside the common range: %+v", g)
	}
}

// Samples of unequal time are priced with the rate of change.
func TestSkew(t *testing.T) {
	m := model(t, solvent())
	in := half(t, m)
	in.Rate = 2e-3
	in.Transmitter.Time = in.Time.Add(-3 * time.Second)
	out := measured(m, in)
	if got := out.Transmitter.Parts[level.Skew]; math.Abs(got+6e-3) > 1e-12 {
		t.Errorf("3 s late at 2 mm/s: %v mm, want -6", 1e3*got)
	}
	if out.Float.Parts[level.Skew] != 0 {
		t.Errorf("float of the same instant: %v", out.Float.Parts[level.Skew])
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

// E_n of a gap is its size over what is allowed.
func TestRatio(t *testing.T) {
	for _, c := range []struct {
		g    gauge.Gap
		want float64
	}{
		{gauge.Gap{Value: mm(-9), Budget: mm(6), OK: true}, 1.5}, {gauge.Gap{Value: mm(3), Budget: mm(6), OK: true}, 0.5},
		{gauge.Gap{Value: mm(9), Budget: mm(6)}, 0}, {gauge.Gap{Value: mm(9), OK: true}, 0},
	} {
		if got := c.g.Ratio(); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%+v: %v, want %v", c.g, got, c.want)
		}
	}
}

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

// Isolated, only what hangs on the chamber itself may be compared.
func TestIsolated(t *testing.T) {
	m := model(t, drum())
	in := half(t, m)
	in.Isolated = true
	out := measured(m, in)
	if !out.Gaps[gauge.FloatTransmitter].OK {
		t.Errorf("float and transmitter on the chamber: %+v", out.Gaps[gauge.FloatTransmitter])
	}
	for _, p := range []gauge.Pair{gauge.VesselFloat, gauge.VesselTransmitter} {
		if g := out.Gaps[p]; g.OK || g.Reason != quantity.Maintenance {
			t.Errorf("%v: %+v, want maintenance", p, g)
		}
	}
}

func TestNewRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*datasheet.Sheet)
		words string
	}{
		"no taps":               {func(s *datasheet.Sheet) { s.Chamber.CentreToCentre = 0 }, "centre-to-centre"},
		"no design gravity":     {func(s *datasheet.Sheet) { s.DesignSG = 0 }, "specific gravity"},
		"unknown fluid":         {func(s *datasheet.Sheet) { s.Fluid.Model = "mud" }, "mud"},
		"float built to sink":   {func(s *datasheet.Sheet) { s.Float.BuiltFor = 300 }, "sinks"},
		"wet leg without fill":  {func(s *datasheet.Sheet) { s.Transmitter.LegDensity = 0 }, "density of its fill"},
		"unknown principle":     {func(s *datasheet.Sheet) { s.Transmitter.Principle = "sonar" }, "sonar"},
		"compensated for what?": {func(s *datasheet.Sheet) { s.Transmitter.Compensated = true }, "calibrated for"},
	} {
		t.Run(name, func(t *testing.T) {
			s := drum()
			c.spoil(&s)
			_, err := gauge.New(s)
			if err == nil || !strings.Contains(err.Error(), c.words) || !strings.Contains(err.Error(), "LG-101") {
				t.Errorf("error %v, want one with %q and the tag", err, c.words)
			}
		})
	}
}
