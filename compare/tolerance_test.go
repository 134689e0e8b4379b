package compare_test

import (
	"testing"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// What a gap may be does not shrink because a reading is missing, and grows
// while the temperature its densities are computed with is only assumed.
func TestAllowanceWithoutReadings(t *testing.T) {
	sheet := baseSheet()
	fine(&sheet)
	sheet.Temperature = &datasheet.Instrument{Tag: "TT-101", U: 0.5}
	sheet.Fluid = datasheet.Fluid{Name: "oil", Model: datasheet.Coefficient, BaseDensity: 900, BaseTemperature: 300, Expansion: 9e-4, RelativeU: .002}
	p := commissioned(t, sheet, 5)
	whole := p.st.Allow[gauge.FloatTransmitter]
	if whole.Varies <= 2 || whole.Budget <= 0 {
		t.Fatalf("allowance %+v", whole)
	}
	lost := quantity.Reading{Quality: quantity.Bad, Reason: quantity.NoAnswer}
	p.cut = func(_ float64, in *gauge.Snapshot) { in.Float = lost }
	p.run(5 * time.Minute)
	if a := p.st.Allow[gauge.FloatTransmitter]; a.Budget != whole.Budget || a.Varies != whole.Varies {
		t.Errorf("without the float the allowance is %+v, was %+v", a, whole)
	}
	p.cut = func(_ float64, in *gauge.Snapshot) { in.Temperature = lost }
	p.run(5 * time.Minute)
	if a := p.st.Allow[gauge.FloatTransmitter]; a.Varies < 1.3*whole.Varies {
		t.Errorf("without the temperature a gap may vary by %.1f mm, with it by %.1f mm", a.Varies, whole.Varies)
	}
	p.cut = nil
	p.run(5 * time.Minute)
	if a := p.st.Allow[gauge.FloatTransmitter]; a.Varies > 1.1*whole.Varies {
		t.Errorf("with the temperature back a gap may vary by %.1f mm, before by %.1f mm", a.Varies, whole.Varies)
	}
}
