package gauge_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
)

// The tables say the same as Measure.
func TestBudgetTables(t *testing.T) {
	for name, sheet := range map[string]datasheet.Sheet{"drum": drum(), "solvent": solvent(), "separator": separator(), "caustic": caustic()} {
		t.Run(name, func(t *testing.T) {
			m := model(t, sheet)
			in := half(t, m)
			out := measured(m, in)
			b, err := m.Budget(&in)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(b.Levels[0].U-out.Float.U().Millimetres()) > 1e-12 {
				t.Errorf("float u %v mm, Measure says %v", b.Levels[0].U, out.Float.U().Millimetres())
			}
			g := out.Gaps[gauge.FloatTransmitter]
			if math.Abs(b.Gaps[0].U-g.U.Millimetres()) > 1e-12 || math.Abs(b.Gaps[0].Allowed-g.Budget.Millimetres()) > 1e-12 {
				t.Errorf("gap u %v, allowed %v mm; Measure says %v, %v", b.Gaps[0].U, b.Gaps[0].Allowed, g.U.Millimetres(), g.Budget.Millimetres())
			}
			for _, l := range b.Levels {
				for _, term := range l.Terms {
					if math.Abs(term.Sensitivity*term.U-term.Contribution) > 1e-12 || !(term.U > 0) {
						t.Errorf("%s, %s: %v × %v is not %v", l.Quantity, term.Name, term.Sensitivity, term.U, term.Contribution)
					}
				}
			}
			text := b.Text()
			for _, want := range []string{sheet.Tag, "Level in the chamber by float", "tap and scale elevation", "dominates", "k = 2"} {
				if !strings.Contains(text, want) {
					t.Errorf("text lacks %q:\n%s", want, text)
				}
			}
		})
	}
}

func TestBudgetOfNothing(t *testing.T) {
	m := model(t, drum())
	if _, err := m.Budget(&gauge.Snapshot{}); err == nil || !strings.Contains(err.Error(), "not read yet") {
		t.Errorf("empty snapshot: %v", err)
	}
}

func TestBudgetByUser(t *testing.T) {
	s := solvent()
	s.Limits.Gap = mm(12)
	m := model(t, s)
	in := half(t, m)
	b, err := m.Budget(&in)
	if err != nil {
		t.Fatal(err)
	}
	if g := b.Gaps[0]; !g.ByUser || g.Allowed != 12 || !strings.Contains(g.Sentence, "The user allows 12.0 mm") {
		t.Errorf("%+v", g)
	}
}

// The Monte Carlo check through the whole physics agrees with the linear
// budget where the physics is nearly straight. It refuses it where a chamber
// close to boiling can only be colder, and where two liquids are so alike that
// the float's immersion between them is far from straight in their densities.
func TestCheckBudget(t *testing.T) {
	nearBoiling := drum()
	nearBoiling.Chamber.Cooling, nearBoiling.Chamber.CoolingU = below(3), 40
	nearBoiling.ChamberTemperature = nil
	for _, c := range []struct {
		name    string
		sheet   datasheet.Sheet
		trusted bool
	}{{"drum", drum(), true}, {"solvent", solvent(), true}, {"separator", separator(), false}, {"caustic", caustic(), true}, {"bare chamber near boiling", nearBoiling, false}} {
		t.Run(c.name, func(t *testing.T) {
			m := model(t, c.sheet)
			in := half(t, m)
			check, err := m.CheckBudget(&in, gauge.FloatTransmitter, 20_000, rand.New(rand.NewPCG(20260116, 1)))
			if err != nil {
				t.Fatal(err)
			}
			if check.Trusted != c.trusted {
				t.Errorf("trusted %v: %s", check.Trusted, check.Sentence)
			}
			b, _ := m.Budget(&in)
			if c.trusted && math.Abs(check.MonteCarlo.U/b.Gaps[0].U-1) > 0.03 {
				t.Errorf("u %.4f mm by Monte Carlo, %.4f mm by budget", check.MonteCarlo.U, b.Gaps[0].U)
			}
		})
	}
}

// A liquid heavier than modelled is found from the gap of float and dp, and
// not from that of float and radar, which hardly depends on it.
func TestInferDensity(t *testing.T) {
	s := solvent()
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-205", Principle: datasheet.DPDry, UPressure: 10}
	m := model(t, s)
	truth := gauge.Truth{ChamberLevel: 1.2, VesselLevel: 1.2, Composition: 1.05}
	column, _, err := m.Columns(&truth)
	if err != nil {
		t.Fatal(err)
	}
	var in gauge.Snapshot
	if err := m.Indicate(&truth, &in); err != nil {
		t.Fatal(err)
	}
	inf, err := m.InferDensity(&in, gauge.FloatTransmitter)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(inf.Density-column.Liquid)) > 1e-6 || !inf.Identifiable || !(inf.U > 0) {
		t.Errorf("inferred %+v, true density %.6f", inf, float64(column.Liquid))
	}
	says := func(want string) {
		t.Helper()
		for _, of := range []gauge.Instrument{gauge.TheFloat, gauge.TheTransmitter} {
			if e, err := m.Explain(&in, of); err != nil || len(e.Densities) != 1 || !strings.Contains(e.Text(), want) {
				t.Errorf("%v explained with densities %+v (%v), want %q", of, e.Densities, err, want)
			}
		}
	}
	says("Density by the gap float − transmitter: If both instruments are sound, the liquid in the chamber has")
	// At about 150 mm float and cell depend on density alike.
	truth.ChamberLevel, truth.VesselLevel = 0.15, 0.15
	if err := m.Indicate(&truth, &in); err != nil {
		t.Fatal(err)
	}
	if inf, err := m.InferDensity(&in, gauge.FloatTransmitter); err == nil && inf.Identifiable {
		t.Errorf("150 mm of liquid identified: %+v", inf)
	}
	says("The gap says nothing about the density here")
	if _, err := m.InferDensity(&in, gauge.FloatSecond); err == nil {
		t.Error("no second transmitter: no error")
	}
	// Two instruments of the same dependence.
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-206", Principle: datasheet.FloatFollower}
	m = model(t, s)
	in = half(t, m)
	if _, err := m.InferDensity(&in, gauge.FloatTransmitter); err == nil || !strings.Contains(err.Error(), "alike") {
		t.Errorf("two followers on one float: %v", err)
	}
}

// The moment the density stops being identifiable: its uncertainty grows
// without bound towards the level where both instruments depend on it alike.
func TestInferenceLosesGrip(t *testing.T) {
	s := solvent()
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-205", Principle: datasheet.DPDry, UPressure: 10}
	m := model(t, s)
	last := math.Inf(1)
	for _, h := range []float64{0.3, 0.5, 0.8, 1.2, 1.5} {
		in, err := m.Standing(h / 1.6)
		if err != nil {
			t.Fatal(err)
		}
		inf, err := m.InferDensity(&in, gauge.FloatTransmitter)
		if err != nil {
			t.Fatal(err)
		}
		if !(float64(inf.U) < last) {
			t.Errorf("at %v m u = %v kg/m³, not below %v", h, float64(inf.U), last)
		}
		last = float64(inf.U)
	}
}
