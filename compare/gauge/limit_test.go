package gauge_test

import (
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

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

// TestACorruptReadingIsNoDeadZone keeps a single bad sample of a radar from
// being taken for a surface the radar cannot see.
func TestACorruptReadingIsNoDeadZone(t *testing.T) {
	s := solvent()
	m := model(t, s)
	in := half(t, m)
	in.Transmitter.Quality, in.Transmitter.Reason = quantity.Bad, quantity.OutOfRange
	if out := measured(m, in); out.OutsideDataSheet != nil {
		t.Errorf("outside the data sheet: %v", out.OutsideDataSheet)
	}
}
