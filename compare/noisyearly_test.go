package compare_test

import (
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// An instrument that grows noisy before its usual noise is known is held against
// its data sheet beside a level that is quiet: it has its name within hours, nobody
// else is blamed, and the noise is not learned as normal.
func TestNoisyBeforeItsUsualNoiseIsKnown(t *testing.T) {
	for _, r := range []struct {
		name    string
		after   time.Duration
		set     func(*plant, float64)
		suspect cause.Suspect
		cause   cause.Cause
		before  string
	}{
		{"radar after an hour", time.Hour, func(p *plant, sd float64) { p.transmitter = p.noisy(sd) }, cause.Transmitter, cause.TransmitterNoisy, "its data sheet allows 10 mm"},
		{"radar after a day", 26 * time.Hour, func(p *plant, sd float64) { p.transmitter = p.noisy(sd) }, cause.Transmitter, cause.TransmitterNoisy, "they used to by"},
		{"follower after an hour", time.Hour, func(p *plant, sd float64) { p.indicated = p.noisy(sd) }, cause.Follower, cause.FollowerNoisy, "its data sheet allows 10 mm"},
		{"follower after a day", 26 * time.Hour, func(p *plant, sd float64) { p.indicated = p.noisy(sd) }, cause.Follower, cause.FollowerNoisy, "they used to by"},
	} {
		t.Run(r.name, func(t *testing.T) {
			sheet := baseSheet()
			withVessel(&sheet)
			continuous(&sheet)
			p := newPlant(t, sheet, 2)
			p.run(r.after)
			r.set(p, 25)
			for range 10 * 24 {
				p.run(time.Hour)
				for _, f := range p.last.Findings {
					if f.Tier == cause.Alert && f.Suspect != cause.Undecided && f.Suspect != r.suspect {
						t.Fatalf("%v after the begin blamed %s: %s", p.now.Sub(began), f.Suspect, f.Sentence)
					}
				}
				if f := p.top(); p.now.Sub(began) >= r.after+4*time.Hour && (f == nil || f.Cause != r.cause) {
					t.Fatalf("%v after the begin: %+v", p.now.Sub(began), f)
				}
			}
			if f := p.top(); !strings.Contains(f.Sentence, r.before) {
				t.Errorf("it says %q", f.Sentence)
			}
			p.transmitter, p.indicated = nil, nil
			p.run(4 * 24 * time.Hour)
			if f := p.top(); f != nil {
				t.Errorf("mended: %+v", f)
			}
		})
	}
}

// What every level shows from the first hour on is the liquid, and is learned; so is
// what a float makes between two steps of its chain.
func TestUnrestFromTheFirstHourIsLearned(t *testing.T) {
	for name, set := range map[string]func(*plant){
		"all levels": func(p *plant) {
			calm := p.level
			p.level = func(s float64) float64 { return calm(s) + 25*p.rng.NormFloat64() }
		},
		"a step of the chain": func(p *plant) {
			p.level = func(s float64) float64 { return 502.5 + p.rng.NormFloat64() }
		},
	} {
		t.Run(name, func(t *testing.T) {
			sheet := baseSheet()
			withVessel(&sheet)
			p := newPlant(t, sheet, 3)
			set(p)
			p.run(5 * 24 * time.Hour)
			for _, f := range append(p.opened, p.alerts()...) {
				if f.Symptom == symptom.NoiseGrown || f.Tier == cause.Alert {
					t.Errorf("%s: %s", f.Symptom, f.Sentence)
				}
			}
			if !p.st.Noisy[symptom.FloatLevel].Known() {
				t.Error("the usual noise of the float is not known after five days")
			}
		})
	}
}

// On a well waves are in one level and not in another: nothing but what was learned
// tells noise there.
func TestWellsAreLearnedFirst(t *testing.T) {
	sheet := baseSheet()
	continuous(&sheet)
	sheet.Limits.Gap = .08
	p := newPlant(t, sheet, 2)
	p.transmitter = p.noisy(15)
	p.run(2 * 24 * time.Hour)
	if p.st.Loud != 0 {
		t.Errorf("loud %b", p.st.Loud)
	}
}
