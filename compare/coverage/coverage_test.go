package coverage_test

import (
	"testing"

	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/structure"
	"bridlewatch/compare/symptom"
)

func ids(list []coverage.BlindSpot) map[string]bool {
	m := map[string]bool{}
	for _, b := range list {
		m[b.ID] = true
	}
	return m
}

// A chamber without a level on the vessel hides its connections; with one
// they are only hard to tell from that level's own faults.
func TestStructuralBlindSpots(t *testing.T) {
	const lv, lc, xf, rho = 1, 2, 4, 8
	set := structure.System{{Name: "chamber", Unknowns: lv | lc}, {Name: "density", Unknowns: rho}, {Name: "follower", Unknowns: xf},
		{Name: "float", Unknowns: lc | xf | rho}, {Name: "LT-1", Unknowns: lc}}
	got := ids(coverage.Structural(set))
	for _, want := range []string{"lower-connection", "upper-connection", "isolation", "apart-density-follower-float-lt-1"} {
		if !got[want] {
			t.Errorf("%s is missing: %v", want, got)
		}
	}
	got = ids(coverage.Structural(append(set, structure.Equation{Name: "LT-2", Unknowns: lv})))
	if got["lower-connection"] || !got["apart-chamber-lt-2"] {
		t.Errorf("with a vessel level: %v", got)
	}
}

func TestSharedBlindSpots(t *testing.T) {
	s := datasheet.Sheet{Points: []datasheet.Point{{Tag: "LSH-1"}}}
	got := ids(coverage.Shared(&s))
	for _, want := range []string{"datum", "foam", "power", "baseline", "chamber-temperature", "composition", "one-elevation"} {
		if !got[want] {
			t.Errorf("%s is missing: %v", want, got)
		}
	}
	s.ChamberTemperature, s.Densitometer = &datasheet.Instrument{}, &datasheet.Instrument{}
	if got = ids(coverage.Shared(&s)); got["chamber-temperature"] || got["composition"] {
		t.Errorf("measured, and still blind: %v", got)
	}
}

// A pass proves the bins whose middle was crossed and no other.
func TestPasses(t *testing.T) {
	var p coverage.Passes
	p.Add(&symptom.Move{At: 100, SubjectIs: symptom.FloatLevel, WitnessIs: symptom.TransmitterLevel, Subject: 131, Witness: 128, DX: 62, DW: 60}, 1000, 2)
	for b := range coverage.Bins {
		middle := 25 + 50*float64(b)
		pass := p[symptom.FloatLevel][b]
		if proven := pass.At != 0; proven != (middle >= 69 && middle <= 131) {
			t.Errorf("bin %d, middle %.0f mm: proven %v", b, middle, proven)
		} else if proven && (pass.Difference != 3 || !pass.Rising || pass.Count != 1 || pass.U != 2) {
			t.Errorf("bin %d: %+v", b, pass)
		}
	}
	if p.Newest(symptom.FloatLevel) != 100 || p.Newest(symptom.TransmitterLevel) != 0 {
		t.Error("newest pass is wrong")
	}
}
