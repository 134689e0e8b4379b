package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// until runs the plant minute by minute until something is announced, or not.
func (p *plant) until(most time.Duration) (after time.Duration, found bool) {
	p.opened, p.upgraded = nil, nil
	for from := p.now; p.now.Sub(from) < most; {
		p.run(time.Minute)
		if len(p.alerts()) > 0 {
			return p.now.Sub(from), true
		}
	}
	return most, false
}

// A float that hangs while the level goes 40 mm is announced within minutes,
// whoever the witness is: a dp transmitter, a radar that sees the level fall,
// or a radar that sees it rise and is seconded by the vessel.
func TestHangingFloatIsAnnouncedWithinMinutes(t *testing.T) {
	rows := []struct {
		name  string
		sheet func(*datasheet.Sheet)
		rate  float64 // mm a minute
		found bool
	}{
		{"radar, falling", fine, -4, true},
		{"radar and vessel, rising", withVessel, 4, true},
		{"radar alone, rising: foam could feign it", fine, 4, false},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			sheet := baseSheet()
			r.sheet(&sheet)
			p := commissioned(t, sheet, 4)
			p.level = func(s float64) float64 { return 500 + r.rate*math.Min(s/60, 12) }
			p.float = func(_, _ float64) float64 { return 500 }
			after, found := p.until(15 * time.Minute)
			if found != r.found || found && after > 12*time.Minute {
				t.Fatalf("found %v after %v; %+v", found, after, p.top())
			}
		})
	}
}

// Foam that lifts the radar for a quarter of an hour is not announced, with or
// without a vessel level that does not rise.
func TestFoamIsNotPrompt(t *testing.T) {
	for _, make := range []func(*datasheet.Sheet){fine, withVessel} {
		sheet := baseSheet()
		make(&sheet)
		p := commissioned(t, sheet, 4)
		p.level = func(s float64) float64 { return 500 + 4*math.Sin(s/900) }
		p.transmitter = func(s, l float64) float64 {
			if s < 900 {
				return l + 55
			}
			return l
		}
		if after, found := p.until(40 * time.Minute); found {
			t.Errorf("after %v: %s", after, p.alerts()[0].Sentence)
		}
	}
}

// hold makes the signals repeat what they had from one time to another,
// seconds since the start, each time with a new time.
func (p *plant) hold(from, to float64, float, transmitter bool) {
	var first gauge.Snapshot
	p.cut = func(s float64, in *gauge.Snapshot) {
		if s < from || s >= to {
			first = gauge.Snapshot{}
			return
		}
		if first.Time.IsZero() {
			first = *in
		}
		if float {
			in.Float.Value, in.Vessel.Value = first.Float.Value, first.Vessel.Value
		}
		if transmitter {
			in.Transmitter.Value = first.Transmitter.Value
		}
	}
}

// A transmitter that gives one value to the last digit is announced once the
// level has gone some millimetres, long before it went a whole move.
func TestFrozenToTheLastDigit(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := commissioned(t, sheet, 3)
	p.level = func(s float64) float64 { return 500 + 4*math.Sin(2*math.Pi*s/5400) }
	p.hold(600, math.Inf(1), false, true)
	after, found := p.until(3 * time.Hour)
	if !found || after > 80*time.Minute {
		t.Fatalf("found %v after %v: %+v", found, after, p.top())
	}
	p.run(time.Hour)
	if f := p.top(); f.Symptom != symptom.TransmitterFrozen || f.Set[0].Cause != cause.TransmitterFrozen {
		t.Errorf("%s, %+v", f.Symptom, f.Set)
	}
}

// Foam lifts an echo and never repeats it to the last digit: a radar that reads
// high by a fall of the level it does not show is announced as soon as a dp
// transmitter would be, unless foam came and went lately, in which a radar
// without an echo keeps its last reading.
func TestFrozenIsNoFoam(t *testing.T) {
	for _, foamed := range []bool{false, true} {
		sheet := baseSheet()
		fine(&sheet)
		p := commissioned(t, sheet, 3)
		if foamed {
			p.level = func(s float64) float64 { return 500 + 4*math.Sin(s/900) }
			p.transmitter = func(s, l float64) float64 { return l + 55*math.Max(0, math.Copysign(1, 900-s)) }
			p.run(2 * time.Hour)
			p.start, p.transmitter = p.now, nil
		}
		p.level = func(s float64) float64 { return 500 - 8*math.Min(10, s/60) }
		p.hold(0, math.Inf(1), false, true)
		after, found := p.until(14 * time.Minute)
		switch f := p.top(); {
		case foamed && found:
			t.Errorf("after foam: announced after %v: %s", after, f.Symptom)
		case !foamed && (!found || after > 9*time.Minute || f.Symptom != symptom.TransmitterFrozen):
			t.Errorf("found %v after %v: %+v", found, after, f)
		}
	}
}

// A gateway that repeats every signal for ten minutes after a restart, and a
// transmitter that resolves no more than 2 mm of a calm level, are healthy.
func TestRepeatsOfHealth(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := commissioned(t, sheet, 3)
	p.hold(1200, 1800, true, true)
	if after, found := p.until(2 * time.Hour); found {
		t.Errorf("gateway: after %v: %s", after, p.alerts()[0].Sentence)
	}

	coarse := func(_ float64, in *gauge.Snapshot) { in.Transmitter.Value = math.Round(in.Transmitter.Value*500) / 500 }
	p = newPlant(t, sheet, 3)
	p.step, p.cut = time.Minute, coarse
	p.run(15 * 24 * time.Hour)
	p.start = p.now
	p.level = func(s float64) float64 { return 500 + 3*math.Sin(2*math.Pi*s/7200) }
	p.cut = func(s float64, in *gauge.Snapshot) { in.Transmitter.Value = 0.5 }
	if after, found := p.until(2 * time.Hour); found {
		t.Errorf("coarse: after %v: %s", after, p.alerts()[0].Sentence)
	}
}

// A float that sticks within 8 mm and jumps is shown within half a day by what
// its jumps do to the scatter and what it stays behind at the turns.
func TestStickSlipOfEightMillimetres(t *testing.T) {
	sheet := baseSheet()
	fine(&sheet)
	p := commissioned(t, sheet, 5)
	x := 500.0
	p.float = func(_, l float64) float64 {
		if math.Abs(l-x) > 8 {
			x = l
		}
		return x
	}
	p.run(12 * time.Hour)
	if f := p.top(); f == nil || f.Symptom != symptom.StickSlip {
		t.Fatalf("not shown after half a day: %+v", f)
	}
	p.run(36 * time.Hour)
	if f := p.top(); f == nil || f.Cause != cause.FloatStickSlip {
		t.Errorf("not named after two days: %+v", f)
	}
}

// A gateway that is restarted while the radar had a wild echo repeats it for
// some minutes beside a float that stands as still: one reading sent eight
// times is no gap of eight minutes. A gap that repeats for longer is one.
func TestWildEchoSentAgainIsNoGap(t *testing.T) {
	for _, r := range []struct {
		minutes  float64
		follower datasheet.FollowerType
		found    bool
	}{{8, datasheet.ReedChain, false}, {8, datasheet.Magnetostrictive, false}, {40, datasheet.Magnetostrictive, true}} {
		sheet := baseSheet()
		withVessel(&sheet)
		if sheet.Float.Follower = r.follower; r.follower != datasheet.ReedChain {
			sheet.Float.Pitch = 0
		}
		p := commissioned(t, sheet, 4)
		p.level = func(s float64) float64 { return 300 + 8*s/60 }
		p.transmitter = func(s, l float64) float64 {
			if s >= 600 && s < 600+p.step.Seconds() {
				return l - 60
			}
			return l
		}
		p.hold(600, 600+60*r.minutes, true, true)
		if after, found := p.until(35 * time.Minute); found != r.found {
			t.Errorf("sent again for %.0f minutes: found %v after %v: %+v", r.minutes, found, after, p.top())
		}
	}
}
