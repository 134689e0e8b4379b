package compare_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
)

// A chamber of boiling water that rises by itself above every level of the
// vessel is cut off above, where vapour condenses and none comes after; one
// that stands where it was is not told to be.
func TestChamberThatFillsIsPluggedAbove(t *testing.T) {
	const onset = 30 * 3600.0
	for _, r := range []struct {
		name    string
		chamber func(s, held float64) float64
		plugged bool
	}{
		{"fills", func(s, held float64) float64 { return 960 + (held-960)*math.Exp(-(s-onset)/(6*3600)) }, true},
		{"stands", func(_, held float64) float64 { return held }, false},
	} {
		t.Run(r.name, func(t *testing.T) {
			sheet := underSteam()
			p := newPlant(t, sheet, 5)
			held := p.level(onset)
			shown := func(s, l float64) float64 {
				if s < onset {
					return l
				}
				return r.chamber(s, held)
			}
			p.float, p.transmitter = shown, shown
			p.run((onset + 24*3600) * time.Second)
			found := false
			for _, f := range p.alerts() {
				t.Logf("%s / %s: %s", f.Cause, f.Suspect, f.Sentence)
				found = found || f.Suspect == cause.Chamber
				left := func(c cause.Cause) bool {
					return slices.ContainsFunc(f.Set, func(x cause.Ranked) bool { return x.Cause == c })
				}
				if r.plugged && (left(cause.ChamberIsolated) || !left(cause.UpperPlug)) || !r.plugged && !left(cause.ChamberIsolated) {
					t.Errorf("remains %+v", f.Set)
				}
			}
			if !found {
				t.Error("the chamber is not suspect")
			}
		})
	}
}

// What a chamber did since an onset is read in the order of time, also where the
// marks kept of it begin anew meanwhile.
func TestFillIsReadInOrder(t *testing.T) {
	const onset = 13.6 * 86400 // the marks are those of seven days
	sheet := underSteam()
	p := newPlant(t, sheet, 5)
	held := p.level(onset)
	shown := func(s, l float64) float64 {
		if s < onset {
			return l
		}
		return 960 + (held-960)*math.Exp(-(s-onset)/(12*3600))
	}
	p.float, p.transmitter = shown, shown
	p.run((onset + 24*3600) * time.Second)
	for _, e := range p.g.Explain(&p.st) {
		if rise, ok := e.Numbers["rise_mm"]; ok && rise > 100 && e.From.Sub(p.start).Seconds() >= onset-3600 {
			return
		}
	}
	t.Errorf("the rise is not in the evidence: %+v", p.g.Explain(&p.st))
}

// underSteam is a gauge on boiling water, with a level of the vessel.
func underSteam() datasheet.Sheet {
	sheet := baseSheet()
	withVessel(&sheet)
	sheet.Fluid = datasheet.Fluid{Name: "water", Model: datasheet.Water, Vapour: datasheet.Vapour{Model: datasheet.Steam}}
	sheet.OperatingPressure, sheet.OperatingTemp = 2e5, 393
	sheet.DesignSG, sheet.Float.BuiltFor = .943, 943
	return sheet
}
