package gauge_test

import (
	"math"
	"testing"
	"time"

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
			func(m *gauge.Measurement) *level.Level { return &m.Transmitter }, level.None, quantity.BlindZone},
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

// A vessel-side level at a tap stands in the chamber where the balance puts it
// just short of there: in a cold chamber well below the upper tap.
func TestVesselAtATap(t *testing.T) {
	m := model(t, drum())
	at := func(vessel quantity.Length) level.Level {
		in := half(t, m)
		in.Vessel.Value = float64(vessel - drum().Vessel.Offset)
		return measured(m, in).Vessel
	}
	span := drum().Chamber.CentreToCentre
	for name, c := range map[string]struct {
		short, beyond quantity.Length
		bound         level.Bound
	}{
		"upper": {span - mm(.001), span + mm(20), level.AboveUpperTap},
		"lower": {mm(.001), mm(-20), level.BelowLowerTap},
	} {
		short, beyond := at(c.short), at(c.beyond)
		if beyond.Bound != c.bound || beyond.Value != 0 {
			t.Fatalf("%s tap: %v, value %v", name, beyond.Bound, float64(beyond.Value))
		}
		if !short.OK() { // the chamber's own lower tap is nearer
			continue
		}
		if off := short.Value - beyond.AtTap; off > mm(.01) || off < mm(-.01) {
			t.Errorf("%s tap: in the chamber at %.2f mm, just short of it at %.2f mm", name, beyond.AtTap.Millimetres(), short.Value.Millimetres())
		}
		if name == "upper" && beyond.AtTap > span-mm(10) {
			t.Errorf("a chamber 45 K colder stands at %.1f mm of %.0f", beyond.AtTap.Millimetres(), span.Millimetres())
		}
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
	in.Transmitter.Time = in.Time.Add(-3 * time.Second)
	var out gauge.Measurement
	moving := gauge.Memory{Rate: 2e-3}
	m.MeasureNext(&in, &moving, &out)
	if got := out.Transmitter.Parts[level.Skew]; math.Abs(got+6e-3) > 1e-12 {
		t.Errorf("3 s late at 2 mm/s: %v mm, want -6", 1e3*got)
	}
	if out.Float.Parts[level.Skew] != 0 {
		t.Errorf("float of the same instant: %v", out.Float.Parts[level.Skew])
	}
}

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

// Isolated, only what hangs on the chamber itself may be compared.
func TestIsolated(t *testing.T) {
	m := model(t, drum())
	in := half(t, m)
	in.Isolated = true
	out := measured(m, in)
	if !out.Gaps[gauge.FloatTransmitter].OK {
		t.Errorf("float and transmitter on the chamber: %+v", out.Gaps[gauge.FloatTransmitter])
	}
	for _, p := range []gauge.Pair{gauge.VesselFloat, gauge.VesselTransmitter, gauge.VesselSecond} {
		if g := out.Gaps[p]; g.OK || g.Reason != quantity.Maintenance {
			t.Errorf("%v: %+v, want maintenance", p, g)
		}
	}
}
