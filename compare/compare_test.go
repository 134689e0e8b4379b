package compare_test

import (
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/symptom"
)

// A healthy gauge with the noise of real instruments has no finding at all.
func TestHealthyGaugeIsQuiet(t *testing.T) {
	for _, step := range []time.Duration{time.Second, 20 * time.Second, time.Minute} {
		for seed := range uint64(4) {
			p := newPlant(t, baseSheet(), seed)
			p.step = step
			d := 6 * 24 * time.Hour
			if step == time.Second {
				d = 12 * time.Hour
			}
			p.run(d)
			for _, f := range p.opened {
				t.Errorf("step %v seed %d: %s %s %s: %s", step, seed, f.Tier, f.Symptom, f.Cause, f.Sentence)
			}
		}
	}
}

// Each fault is found and blamed on the right instrument.
func TestFaultsAreNamed(t *testing.T) {
	const onset = 8 * 3600.0
	after := func(s float64, bad, good float64) float64 {
		if s > onset {
			return bad
		}
		return good
	}
	stuckAt := wander(1)(onset)
	rows := []struct {
		name    string
		sheet   func(*datasheet.Sheet)
		set     func(*plant)
		within  time.Duration
		symptom symptom.Kind
		cause   cause.Cause // Unknown: a set
		suspect cause.Suspect
	}{
		{name: "float stuck", within: 6 * time.Hour, symptom: symptom.FloatStill, cause: cause.Unknown, suspect: cause.Float,
			set: func(p *plant) { p.float = func(s, l float64) float64 { return after(s, stuckAt, l) } }},
		{name: "transmitter frozen", within: 6 * time.Hour, symptom: symptom.TransmitterFrozen, cause: cause.TransmitterFrozen, suspect: cause.Transmitter,
			set: func(p *plant) { p.transmitter = func(s, l float64) float64 { return after(s, stuckAt, l) } }},
		{name: "float sunk", within: 10 * time.Minute, symptom: symptom.FloatAtBottom, cause: cause.FloatSunk, suspect: cause.Float,
			set: func(p *plant) { p.float = func(s, l float64) float64 { return after(s, -200, l) } }},
		{name: "point dead", within: 26 * time.Hour, symptom: symptom.PointMissed, cause: cause.PointFailed, suspect: cause.Point,
			set: func(p *plant) {
				p.point = func(s float64, i int, wet bool) bool { return wet && (s < onset || i != 1) }
			}},
		{name: "point shifted", within: 30 * time.Hour, symptom: symptom.PointShifted, cause: cause.PointShifted, suspect: cause.Point,
			set: func(p *plant) {
				p.point = func(s float64, i int, wet bool) bool {
					if s < onset || i != 1 {
						return wet
					}
					return p.magnet > 725
				}
			}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			sheet := baseSheet()
			if r.sheet != nil {
				r.sheet(&sheet)
			}
			p := newPlant(t, sheet, 1)
			r.set(p)
			p.run(time.Duration(onset) * time.Second)
			if len(p.alerts()) != 0 {
				t.Fatalf("alert before the fault: %+v", p.alerts()[0])
			}
			p.run(r.within)
			f := p.top()
			if f == nil || f.Tier != cause.Alert {
				t.Fatalf("no alert after %v: %+v", r.within, f)
			}
			t.Logf("%s / %s / %s: %s %s", f.Symptom, f.Cause, f.Suspect, f.Sentence, f.Next)
			if f.Symptom != r.symptom || f.Suspect != r.suspect || (r.cause != cause.Unknown && f.Cause != r.cause) {
				t.Errorf("got %s %s %s, want %s %s %s", f.Symptom, f.Cause, f.Suspect, r.symptom, r.cause, r.suspect)
			}
		})
	}
}

// An offset of the transmitter without a third witness is a set, not a name.
func TestOffsetOfTwoInstrumentsIsASet(t *testing.T) {
	p := newPlant(t, baseSheet(), 2)
	p.transmitter = func(s, l float64) float64 {
		if s > 4*3600 {
			return l + 25
		}
		return l
	}
	p.run(20 * time.Hour)
	f := p.top()
	if f == nil || f.Tier != cause.Alert || f.Suspect != cause.Undecided || len(f.Set) < 2 {
		t.Fatalf("got %+v", f)
	}
	t.Log(f.Sentence, f.Next)
}

// A second witness decides who is wrong.
func TestOffsetWithVesselLevelIsNamed(t *testing.T) {
	sheet := baseSheet()
	sheet.Vessel = &datasheet.Vessel{Tag: "LT-102", U: .002}
	p := newPlant(t, sheet, 3)
	p.transmitter = func(s, l float64) float64 {
		if s > 4*3600 {
			return l + 60
		}
		return l
	}
	p.run(20 * time.Hour)
	f := p.top()
	if f == nil || f.Tier != cause.Alert || f.Suspect != cause.Transmitter {
		t.Fatalf("got %+v", f)
	}
	t.Log(f.Sentence, f.Next)
}
