package gauge_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// The last step of an explanation is the level Measure gives, for every
// principle and place.
func TestExplainEndsInTheLevel(t *testing.T) {
	const seed = 20260117
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 300 {
		p := principles[i%len(principles)]
		sheet := randomSheet(rng, p, []string{"same", "secondary", "vessel"}[rng.IntN(3)])
		m := model(t, sheet)
		in, err := m.Standing(0.2 + 0.6*rng.Float64())
		if err != nil {
			t.Fatal(err)
		}
		out := measured(m, in)
		for of, want := range map[gauge.Instrument]quantity.Length{
			gauge.TheFloat: out.Float.Value, gauge.TheTransmitter: out.Transmitter.Value, gauge.TheVessel: out.Vessel.Value,
		} {
			e, err := m.Explain(&in, of)
			if err != nil {
				t.Fatalf("seed %d, sheet %d, %v: %v", seed, i, of, err)
			}
			if math.Abs(e.Level-want.Millimetres()) > 1e-9 || e.U <= 0 || !e.VesselOK {
				t.Fatalf("seed %d, sheet %d, %v: level %v mm, Measure says %v", seed, i, of, e.Level, want.Millimetres())
			}
			if got, ok := stepped(e); !ok || math.Abs(got-want.Millimetres()) > 1e-6 {
				t.Fatalf("seed %d, sheet %d, %s %v: steps end in %v mm, level is %v mm\n%s", seed, i, p, of, got, want.Millimetres(), e.Text())
			}
		}
	}
}

// stepped is the chamber level the steps themselves arrive at.
func stepped(e gauge.Explanation) (float64, bool) {
	found, ok := 0.0, false
	for _, s := range e.Steps {
		if s.Symbol == "hc" || (s.Symbol == "h" && !ok) {
			found, ok = s.Value, true
		}
		if s.Symbol == "hv" && !strings.Contains(s.Equation, "hc") {
			ok = false // a vessel level: hc is still to come
		}
	}
	return found, ok
}

func TestExplainText(t *testing.T) {
	m := model(t, drum())
	in := half(t, m)
	e, err := m.Explain(&in, gauge.TheFloat)
	if err != nil {
		t.Fatal(err)
	}
	text := e.Text()
	for _, want := range []string{"LG-101, float LI-101", "IAPWS", "V(z)", "x − x0 − z(ρ0) + z(ρ)", "k = 2", "Level in the vessel", "hydrostatic balance"} {
		if !strings.Contains(text, want) {
			t.Errorf("text lacks %q:\n%s", want, text)
		}
	}
	blob, err := json.Marshal(e)
	if err != nil || !strings.Contains(string(blob), `"level_mm"`) {
		t.Errorf("JSON: %v %s", err, blob)
	}
}

func TestExplainWithoutALevel(t *testing.T) {
	m := model(t, drum())
	in := half(t, m)
	in.Float = quantity.Reading{Quality: quantity.Bad, Reason: quantity.SensorFault}
	e, err := m.Explain(&in, gauge.TheFloat)
	if err != nil || e.Level != 0 || e.VesselOK || !strings.Contains(e.Text(), "No level: sensor fault current") {
		t.Errorf("%v, %+v\n%s", err, e, e.Text())
	}
	in = half(t, m)
	in.Float.Value = 2
	if e, err := m.Explain(&in, gauge.TheFloat); err != nil || !strings.Contains(e.Text(), "at or above upper tap") {
		t.Errorf("%v\n%s", err, e.Text())
	}
	s := solvent()
	s.Float = datasheet.Float{}
	m = model(t, s)
	for _, of := range []gauge.Instrument{gauge.TheFloat, gauge.TheSecond, gauge.TheVessel} {
		if _, err := m.Explain(&in, of); err == nil {
			t.Errorf("no %v: no error", of)
		}
	}
}

func unknownChamber() datasheet.Sheet {
	s := drum()
	s.ChamberTemperature, s.Chamber.Cooling = nil, nil
	return s
}

func TestExplainNotes(t *testing.T) {
	for _, c := range []struct {
		name  string
		sheet datasheet.Sheet
		spoil func(*gauge.Snapshot)
		words string
	}{
		{"collapsed level of a drum", drum(), func(*gauge.Snapshot) {}, "With 10 % of steam in the boiling liquid its surface would stand at 444 mm"},
		{"nothing measured", solvent(), func(in *gauge.Snapshot) { in.Temperature = quantity.Reading{} }, "taken from the data sheet"},
		{"chamber of unknown temperature", unknownChamber(), func(*gauge.Snapshot) {}, "as warm as the vessel"},
		{"interface", separator(), func(*gauge.Snapshot) {}, "both taps are covered"},
		{"outside", drum(), func(in *gauge.Snapshot) { in.Pressure.Value = 65e5 }, "Outside the data sheet: Pressure is 65.00 bar"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := model(t, c.sheet)
			in := half(t, m)
			c.spoil(&in)
			e, err := m.Explain(&in, gauge.TheFloat)
			if err != nil || !strings.Contains(strings.Join(e.Notes, "\n"), c.words) || !strings.Contains(e.Text(), "Note: ") {
				t.Errorf("%v, notes %q, want one with %q", err, e.Notes, c.words)
			}
		})
	}
}

func TestParseInstrument(t *testing.T) {
	for _, i := range []gauge.Instrument{gauge.TheFloat, gauge.TheTransmitter, gauge.TheSecond, gauge.TheVessel} {
		if got, err := gauge.ParseInstrument(i.String()); err != nil || got != i {
			t.Errorf("%v: %v, %v", i, got, err)
		}
	}
	if _, err := gauge.ParseInstrument("sonar"); err == nil {
		t.Error("sonar: no error")
	}
}
