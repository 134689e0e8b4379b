package compare_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/symptom"
)

// noisy adds noise of a standard deviation to a level of the plant.
func (p *plant) noisy(sd float64) func(s, l float64) float64 {
	return func(_, l float64) float64 { return l + sd*p.rng.NormFloat64() }
}

func continuous(s *datasheet.Sheet) {
	s.Float.Follower, s.Float.Pitch = datasheet.Magnetostrictive, 0
}

// One instrument whose readings scatter is named within hours, with the lines
// that say so, and for ten days nothing else is blamed for it.
func TestNoisyInstrumentIsNamed(t *testing.T) {
	for _, r := range []struct {
		name    string
		sheet   func(*datasheet.Sheet)
		set     func(*plant)
		suspect cause.Suspect
		cause   cause.Cause
		tag     string
		within  time.Duration
	}{
		{"radar 25 mm", continuous, func(p *plant) { p.transmitter = p.noisy(25) }, cause.Transmitter, cause.TransmitterNoisy, "LT-101", 4 * time.Hour},
		{"radar 60 mm beside a reed chain", func(*datasheet.Sheet) {}, func(p *plant) { p.transmitter = p.noisy(60) }, cause.Transmitter, cause.TransmitterNoisy, "LT-101", 4 * time.Hour},
		{"follower 25 mm", continuous, func(p *plant) { p.indicated = p.noisy(25) }, cause.Follower, cause.FollowerNoisy, "LI-101", 4 * time.Hour},
		{"reed chain 60 mm", func(*datasheet.Sheet) {}, func(p *plant) { p.indicated = p.noisy(60) }, cause.Follower, cause.FollowerNoisy, "LI-101", 4 * time.Hour},
		{"radar 25 mm beside a vessel level", withVessel, func(p *plant) { p.transmitter = p.noisy(25) }, cause.Transmitter, cause.TransmitterNoisy, "LT-101", 4 * time.Hour},
	} {
		t.Run(r.name, func(t *testing.T) {
			sheet := baseSheet()
			r.sheet(&sheet)
			p := newPlant(t, sheet, 2)
			p.run(15 * 24 * time.Hour)
			if len(p.alerts()) > 0 {
				t.Fatalf("healthy: %+v", p.alerts())
			}
			r.set(p)
			p.run(r.within)
			f := p.top()
			if f == nil || f.Tier != cause.Alert || f.Suspect != r.suspect || f.Cause != r.cause || f.Tag != r.tag {
				t.Fatalf("after %v: %+v", r.within, f)
			}
			if !strings.Contains(f.Sentence, "scatter by") || !strings.Contains(f.Sentence, "grown noisy") || f.Next == "" || f.WouldProve == "" {
				t.Errorf("it says %q, next %q, proof %q", f.Sentence, f.Next, f.WouldProve)
			}
			if e := f.Evidence[0]; e.From.IsZero() || e.Nats < 4 || e.Excitation == "" || e.Numbers["scatter_mm"] < 10 || !slices.Contains(e.For, r.cause) {
				t.Errorf("first line %+v", e)
			}
			if tests := cause.Settle(f.Set); len(tests) == 0 || len(tests[0].Cautions) == 0 {
				t.Errorf("nothing confirms it: %+v", tests)
			}
			t.Log(f.Sentence, f.Next)
			p.run(10 * 24 * time.Hour)
			for _, f := range p.alerts() {
				if f.Suspect != cause.Undecided && (f.Suspect != r.suspect || f.Tag != r.tag) {
					t.Errorf("blamed %s %s: %s", f.Suspect, f.Tag, f.Sentence)
				}
			}
			if f := p.top(); f == nil || f.Cause != r.cause {
				t.Errorf("ten days later: %+v", f)
			}
		})
	}
}

// A radar that has strayed from the float for hours all its life does not change
// its name with that once it is noisy.
func TestNoisyWhileItStrays(t *testing.T) {
	sheet := baseSheet()
	continuous(&sheet)
	sheet.Limits.Gap = .08
	p := newPlant(t, sheet, 2)
	p.step = time.Minute
	stray := func(s float64) float64 { return 12 * math.Sin(2*math.Pi*s/44700) }
	p.transmitter = func(s, l float64) float64 { return l + stray(s) }
	p.run(15 * 24 * time.Hour)
	p.transmitter = func(s, l float64) float64 { return l + stray(s) + 25*p.rng.NormFloat64() }
	var names []cause.Cause
	for range 96 {
		p.run(time.Hour)
		if f := p.top(); f != nil && f.Tier == cause.Alert && (len(names) == 0 || names[len(names)-1] != f.Cause) {
			names = append(names, f.Cause)
		}
	}
	if n := len(names); n == 0 || n > 2 || names[n-1] != cause.TransmitterNoisy {
		t.Errorf("named %v", names)
	}
}

// Waves that every level shows, each in its own measure, blame nobody.
func TestUnrestOfTheLiquidIsNoInstrument(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	continuous(&sheet)
	p := newPlant(t, sheet, 3)
	p.run(15 * 24 * time.Hour)
	calm := p.level
	p.level = func(s float64) float64 { return calm(s) + 20*p.rng.NormFloat64() }
	p.run(4 * 24 * time.Hour)
	for _, f := range p.opened {
		if f.Symptom == symptom.NoiseGrown || f.Tier == cause.Alert {
			t.Errorf("%s: %s", f.Symptom, f.Sentence)
		}
	}
}

// Swell is in every level and does not leave them all at once: the one it leaves
// last is not noisy, however long the swell was.
func TestSwellLeavesOneLevelLast(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := newPlant(t, sheet, 3)
	p.run(15 * 24 * time.Hour)
	begin, calm := p.now.Sub(p.start).Seconds(), p.level
	p.level = func(s float64) float64 {
		if s-begin < 24*3600 {
			return calm(s) + 25*p.rng.NormFloat64()
		}
		return calm(s)
	}
	p.transmitter = func(s, l float64) float64 {
		if s-begin > 24*3600 && s-begin < 26*3600 {
			return l + 25*p.rng.NormFloat64()
		}
		return l
	}
	p.run(40 * time.Hour)
	for _, f := range p.alerts() {
		t.Errorf("%s: %s", f.Symptom, f.Sentence)
	}
}

// An instrument that is open to waves the others do not see is noisy for a while,
// and quiet again by itself. The first time is told; the next is no news before it
// lasts twice as long.
func TestNoiseThatCameAndWent(t *testing.T) {
	sheet := baseSheet()
	continuous(&sheet)
	p := newPlant(t, sheet, 2)
	p.run(15 * 24 * time.Hour)
	told := func(noise, quiet time.Duration) bool {
		before := len(p.alerts())
		p.transmitter = p.noisy(25)
		p.run(noise)
		p.transmitter = nil
		p.run(quiet)
		return len(p.alerts()) > before
	}
	if !told(10*time.Hour, 4*24*time.Hour) {
		t.Error("the first noise is not told")
	}
	if told(14*time.Hour, 4*24*time.Hour) {
		t.Error("noise of 14 h after one of 10 h is told")
	}
	if !told(40*time.Hour, 0) {
		t.Error("noise of 40 h after one of 14 h is not told")
	}
}

// A vessel's instrument that scatters above a quiet chamber may show waves: both
// remain, after a day, and what tells them apart is next.
func TestNoisyVesselLevelIsASet(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := newPlant(t, sheet, 3)
	p.run(15 * 24 * time.Hour)
	p.vessel = p.noisy(25)
	p.run(20 * time.Hour)
	if len(p.alerts()) > 0 {
		t.Errorf("announced within a day: %+v", p.alerts())
	}
	p.run(10 * time.Hour)
	f := p.top()
	if f == nil || f.Tier != cause.Alert || f.Suspect != cause.Undecided || len(f.Set) != 2 || f.Set[0].Cause != cause.VesselNoisy || f.Set[1].Cause != cause.SurfaceUnquiet {
		t.Fatalf("after 30 hours: %+v", f)
	}
	if !strings.Contains(f.Next, "heating, filling and agitator pause") {
		t.Errorf("next %q", f.Next)
	}
}

// Noise under half a move is shown and not announced; noise that only ever lifts
// a radar is foam.
func TestSmallNoiseAndFoam(t *testing.T) {
	sheet := baseSheet()
	continuous(&sheet)
	p := newPlant(t, sheet, 2)
	p.run(15 * 24 * time.Hour)
	p.transmitter = p.noisy(7)
	p.run(2 * 24 * time.Hour)
	if f := p.top(); len(p.alerts()) > 0 || f == nil || f.Symptom != symptom.NoiseGrown {
		t.Errorf("7 mm: %+v", f)
	}
	p = newPlant(t, sheet, 2)
	p.run(15 * 24 * time.Hour)
	p.transmitter = func(_, l float64) float64 { return l + 30*max(0, 1+p.rng.NormFloat64()) }
	p.run(12 * time.Hour)
	for _, f := range p.alerts() {
		if f.Cause == cause.TransmitterNoisy {
			t.Errorf("foam is called noise: %s", f.Sentence)
		}
	}
	if f := p.top(); f == nil || !slices.ContainsFunc(f.Set, func(r cause.Ranked) bool { return r.Cause == cause.RadarDisturbed }) {
		t.Errorf("foam: %+v", f)
	}
}

// A float that hangs before a radar grows noisy stays the float's fault, and one
// that hangs after it is still found where the moves are large.
func TestNoiseHidesNoOtherFault(t *testing.T) {
	sheet := baseSheet()
	continuous(&sheet)
	p := newPlant(t, sheet, 2)
	p.run(15 * 24 * time.Hour)
	p.float = func(_, l float64) float64 { return 480 }
	p.run(12 * time.Hour)
	p.transmitter = p.noisy(25)
	p.run(12 * time.Hour)
	if !slices.ContainsFunc(p.last.Findings, func(f cause.Finding) bool { return f.Tier == cause.Alert && f.Symptom == symptom.FloatStill }) {
		t.Errorf("the float that hangs is forgotten: %+v", p.last.Findings)
	}
	p = newPlant(t, sheet, 2)
	p.run(15 * 24 * time.Hour)
	p.transmitter = p.noisy(15)
	p.run(12 * time.Hour)
	p.float = func(_, l float64) float64 { return 480 }
	p.run(36 * time.Hour)
	if !slices.ContainsFunc(p.alerts(), func(f cause.Finding) bool {
		return f.Symptom == symptom.FloatStill || f.Symptom == symptom.GapBeyondBudget
	}) {
		t.Errorf("a float that hangs beside a noisy radar is not found: %+v", p.last.Findings)
	}
}

// A state written before noise was watched goes on, and one in the midst of noise
// continues where it was.
func TestNoiseSurvivesARestart(t *testing.T) {
	sheet := baseSheet()
	continuous(&sheet)
	p := newPlant(t, sheet, 2)
	p.run(15 * 24 * time.Hour)
	text, err := json.Marshal(&p.st)
	if err != nil {
		t.Fatal(err)
	}
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(text, &fields); err != nil {
		t.Fatal(err)
	}
	delete(fields, "Noisy")
	delete(fields, "Loud")
	old, err := json.Marshal(fields)
	if err != nil {
		t.Fatal(err)
	}
	p.st = compare.State{}
	if err := json.Unmarshal(old, &p.st); err != nil {
		t.Fatal(err)
	}
	p.run(5 * 24 * time.Hour)
	p.transmitter = p.noisy(25)
	p.run(2 * time.Hour)
	if text, err = json.Marshal(&p.st); err != nil {
		t.Fatal(err)
	}
	p.st = compare.State{}
	if err := json.Unmarshal(text, &p.st); err != nil {
		t.Fatal(err)
	}
	p.run(2 * time.Hour)
	if f := p.top(); f == nil || f.Cause != cause.TransmitterNoisy || f.Tier != cause.Alert {
		t.Errorf("after an old state and a restart: %+v", f)
	}
}
