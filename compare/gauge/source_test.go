package gauge_test

import (
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// An explanation names an instrument only where its reading was used.
func TestExplainNamesWhatWasRead(t *testing.T) {
	sheet := drum()
	sheet.Pressure = &datasheet.Instrument{Tag: "PT-101"}
	sheet.Temperature = &datasheet.Instrument{Tag: "TT-102"}
	sheet.ChamberTemperature = &datasheet.Instrument{Tag: "TT-101"}
	sheet.Chamber.Cooling = nil
	m := model(t, sheet)
	read := half(t, m)
	read.ChamberTemperature = quantity.Reading{Value: 480, Quality: quantity.Good}
	for _, c := range []struct {
		name string
		in   gauge.Snapshot
		want []string
		not  []string
	}{
		{"everything read", read, []string{"[PT-101]", "[TT-101]"}, []string{"operating pressure of the data sheet"}},
		{"float alone", gauge.Snapshot{Float: read.Float}, []string{"[operating pressure of the data sheet]", "no reading of TT-101 was given"},
			[]string{"[PT-101]", "[TT-101]", "[TT-102]", "nothing measures it"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			e, err := m.Explain(&c.in, gauge.TheFloat)
			if err != nil {
				t.Fatal(err)
			}
			text := e.Text()
			for _, w := range c.want {
				if !strings.Contains(text, w) {
					t.Errorf("text lacks %q:\n%s", w, text)
				}
			}
			for _, w := range c.not {
				if strings.Contains(text, w) {
					t.Errorf("text has %q:\n%s", w, text)
				}
			}
		})
	}
}

// A float that does not swim ends with the densities and what would help.
func TestExplainSunkFloat(t *testing.T) {
	s := solvent()
	s.Fluid = datasheet.Fluid{Name: "reflux", Model: datasheet.Measured, BaseDensity: 790, BaseTemperature: celsius(20), Expansion: 1e-3}
	s.Densitometer = &datasheet.Instrument{Tag: "DT-205"}
	m := model(t, s)
	in := half(t, m)
	in.Density = quantity.Reading{Value: 150, Quality: quantity.Good}
	e, err := m.Explain(&in, gauge.TheFloat)
	if err != nil || e.Level != 0 || !strings.Contains(e.Reason, "float sinks") || !strings.Contains(e.Reason, "lighter or larger float") {
		t.Errorf("%v, reason %q", err, e.Reason)
	}
}

// A chamber read hotter than boiling is held at boiling, and said so.
func TestChamberAboveBoiling(t *testing.T) {
	sheet := drum()
	sheet.ChamberTemperature = &datasheet.Instrument{Tag: "TT-101"}
	m := model(t, sheet)
	in := half(t, m)
	in.ChamberTemperature = quantity.Reading{Value: 560, Quality: quantity.Good} // boiling at 40 bar: 523.5 K
	out := measured(m, in)
	if got := out.ChamberTempUsed; got < 523 || got > 524 {
		t.Errorf("chamber at %.1f K, want boiling", float64(got))
	}
	if len(out.OutsideDataSheet) == 0 || out.OutsideDataSheet[0].What != "pressure against temperature" {
		t.Errorf("no word about it: %+v", out.OutsideDataSheet)
	}
	e, err := m.Explain(&in, gauge.TheFloat)
	if err != nil || !strings.Contains(strings.Join(e.Notes, "\n"), "above its boiling point") {
		t.Errorf("%v, notes %q", err, e.Notes)
	}
	in.ChamberTemperature.Value = 480
	if out = measured(m, in); len(out.OutsideDataSheet) != 0 {
		t.Errorf("below boiling: %+v", out.OutsideDataSheet)
	}
}

// Every line of a budget says where its number comes from and how free it is.
func TestBudgetLinesAreWhole(t *testing.T) {
	for _, sheet := range []datasheet.Sheet{drum(), solvent(), separator()} {
		m := model(t, sheet)
		in, err := m.Standing(0.5)
		if err != nil {
			t.Fatal(err)
		}
		b, err := m.Budget(&in)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range b.Levels {
			for _, term := range l.Terms {
				if term.Source == "" || term.Unit == "" || !(term.U > 0) {
					t.Errorf("%s, %s: %+v", sheet.Tag, l.Quantity, term)
				}
			}
		}
		if text := b.Text(); !strings.Contains(text, " ν ") || !strings.Contains(text, "ν = ∞") {
			t.Errorf("no degrees of freedom:\n%s", text)
		}
		if sheet.Fluid.Upper != nil && !strings.Contains(b.Text(), "lighter liquid density") {
			t.Error("the lighter liquid of an interface is called a gas")
		}
	}
}
