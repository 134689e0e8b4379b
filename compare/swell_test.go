package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// seldom has the float read once in so many minutes.
func (p *plant) seldom(minutes float64) {
	var last quantity.Reading
	p.cut = func(s float64, in *gauge.Snapshot) {
		if math.Mod(s, 60*minutes) < p.step.Seconds() || last.Time.IsZero() {
			last = in.Float
		}
		in.Float = last
	}
}

// A float read every quarter of an hour meets a swing of the water at any phase:
// it neither stands still beside levels that are read every minute nor is noisy
// beside them.
func TestSeicheBetweenSeldomReadings(t *testing.T) {
	for _, swing := range []float64{11, 17, 23, 37} { // minutes
		p := tideWell(t, 160)
		p.seldom(15)
		p.run(8 * 24 * time.Hour)
		from, tide := p.now.Sub(p.start).Seconds(), p.level
		p.level = func(s float64) float64 {
			return tide(s) + 90*math.Min(1, (s-from)/7200)*math.Sin(2*math.Pi*s/60/swing)
		}
		p.opened, p.upgraded = nil, nil
		p.run(3 * 24 * time.Hour)
		for _, f := range p.alerts() {
			t.Errorf("a swing of %.0f minutes: %s: %s", swing, f.Symptom, f.Sentence)
		}
	}
}

// A set-up of centimetres that a storm brings with its waves is no jump of an
// instrument; the same on calm water is.
func TestWavesHideAJump(t *testing.T) {
	for _, waves := range []float64{0, 15} {
		p := tideWell(t, 160)
		p.run(8 * 24 * time.Hour)
		from := p.now.Sub(p.start).Seconds()
		shaken := func(up float64) func(s, level float64) float64 {
			return func(s, level float64) float64 {
				if s > from+4*3600 {
					level += up * math.Min(1, (s-from-4*3600)/1200)
				}
				return level + waves*p.rng.NormFloat64()
			}
		}
		p.float, p.transmitter, p.second = shaken(0), shaken(26), shaken(26)
		p.opened, p.upgraded = nil, nil
		p.run(14 * time.Hour)
		jumped := false
		for _, f := range p.alerts() {
			jumped = jumped || f.Symptom == symptom.GapStep || f.Symptom == symptom.GapBeyondBudget
		}
		if jumped != (waves == 0) {
			t.Errorf("waves of %.0f mm: told %t", waves, jumped)
			for _, f := range p.alerts() {
				t.Log(f.Symptom, f.Sentence)
			}
		}
	}
}

// A float whose value is wild and the same for eight readings is farther from the
// others than they went meanwhile: it does not stand where they were.
func TestWildBurstIsNoStuckFloat(t *testing.T) {
	p := tideWell(t, 160)
	p.seldom(6)
	p.run(2 * 24 * time.Hour)
	from := p.now.Sub(p.start).Seconds()
	p.float = func(s, level float64) float64 {
		if h := math.Mod((s-from)/3600, 5); h > 2 && h < 2.8 {
			return 800
		}
		return level
	}
	p.opened, p.upgraded = nil, nil
	p.run(26 * time.Hour)
	for _, f := range p.alerts() {
		if f.Symptom == symptom.FloatStill {
			t.Errorf("%s: %s", f.Symptom, f.Sentence)
		}
	}
}

// Where the user states what a gap may be, waves may shake one instrument for
// hours: it is called noisy after a day of that, and not before.
func TestNoiseOfAWellLastsADay(t *testing.T) {
	p := tideWell(t, 160)
	p.transmitter = p.noisy(25)
	p.opened, p.upgraded = nil, nil
	p.run(20 * time.Hour)
	for _, f := range p.alerts() {
		t.Errorf("within a day: %s: %s", f.Symptom, f.Sentence)
	}
	p.run(10 * time.Hour)
	if f := p.top(); f == nil || f.Symptom != symptom.NoiseGrown || f.Tier != cause.Alert || f.Tag != "LT-101" {
		t.Errorf("after more than a day: %+v", f)
	}
}
