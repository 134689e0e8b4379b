package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

// stuckOrFrozen is a ranking of a float that is stuck, with a probability, and a
// transmitter that is frozen.
func stuckOrFrozen(float float64) []cause.Ranked {
	stuck := cause.Ranked{Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-101", Probability: float}
	frozen := cause.Ranked{Cause: cause.TransmitterFrozen, Suspect: cause.Transmitter, Tag: "LT-101", Probability: 1 - float}
	if float < 0.5 {
		stuck, frozen = frozen, stuck
	}
	frozen.Nats = math.Log(frozen.Probability / stuck.Probability)
	return []cause.Ranked{stuck, frozen}
}

// weighed takes an alert through weighings ten minutes apart and returns who is
// blamed after each.
func weighed(g *compare.Gauge, e *compare.Episode, floats ...float64) (suspects []cause.Suspect) {
	for i, p := range floats {
		ranked := stuckOrFrozen(p)
		c, by, tag := cause.Name(ranked)
		g.Rename(int64(600*i), e, compare.Name{Cause: c, Suspect: by, Tag: tag}, ranked)
		suspects = append(suspects, e.Finding.Suspect)
	}
	return suspects
}

// A name that was given stays while its odds come and go, on a well down to even
// ones; once it is refuted it goes, and another one that is certain takes its place
// after two weighings.
func TestNameStaysWhileItsOddsComeAndGo(t *testing.T) {
	for _, r := range []struct {
		limit quantity.Length
		odds  []float64
	}{
		{0, []float64{.5, .97, .7, .7, .97, .97, .75, .7, .98, .97, .6, .98, .98}},
		{.16, []float64{.5, .97, .7, .7, .6, .97, .55, .6, .3, .4, .7, .6, .98, .6, .6, .55}},
	} {
		sheet := baseSheet()
		sheet.Limits.Gap = r.limit
		g := newPlant(t, sheet, 1).g
		fresh := func() *compare.Episode {
			return &compare.Episode{Finding: cause.Finding{Cause: cause.Unknown, Suspect: cause.Undecided, Tier: cause.Alert}}
		}
		for i, by := range weighed(g, fresh(), r.odds...) {
			if want := cause.Float; i > 0 && by != want || i == 0 && by != cause.Undecided {
				t.Fatalf("limit %v, weighing %d: %s", r.limit, i, by)
			}
		}
		got := weighed(g, fresh(), .99, .1, .1, .1, .1, .1, .1)
		if got[1] != cause.Float || got[len(got)-1] != cause.Undecided {
			t.Errorf("limit %v, refuted and nobody else certain: %v", r.limit, got)
		}
		e := fresh()
		if got = weighed(g, e, .99, .02, .02); got[1] != cause.Float || got[2] != cause.Transmitter || e.Finding.Cause != cause.TransmitterFrozen {
			t.Errorf("limit %v, another is certain: %v, %s", r.limit, got, e.Finding.Cause)
		}
	}
}

// Within one instrument another cause must be found four times in a row.
func TestCauseStaysWithinAName(t *testing.T) {
	e := &compare.Episode{Finding: cause.Finding{Cause: cause.FloatOneWay, Suspect: cause.Float, Tag: "LI-101", Tier: cause.Alert}}
	heavier := []cause.Ranked{{Cause: cause.FloatHeavier, Suspect: cause.Float, Tag: "LI-101", Probability: .99},
		{Cause: cause.FloatOneWay, Suspect: cause.Float, Tag: "LI-101", Probability: .01, Nats: -4.6}}
	c, by, tag := cause.Name(heavier)
	g := newPlant(t, baseSheet(), 1).g
	for i := range 4 {
		if e.Finding.Cause != cause.FloatOneWay {
			t.Errorf("weighing %d: %s", i, e.Finding.Cause)
		}
		g.Rename(int64(600*i), e, compare.Name{Cause: c, Suspect: by, Tag: tag}, heavier)
	}
	if e.Finding.Cause != cause.FloatHeavier {
		t.Errorf("found four times, and called %s", e.Finding.Cause)
	}
}

// What parts the levels of a well beside a fault comes with a tide and the weather:
// two faults at once take the place of one only when they outlast a tide.
func TestTwoFaultsOnAWellOutlastATide(t *testing.T) {
	for _, r := range []struct {
		name  string
		limit float64
		every time.Duration
		after time.Duration
	}{
		{"plant", 0, 10 * time.Minute, 50 * time.Minute},
		{"well", .16, 10 * time.Minute, 13 * time.Hour},
		{"well, old alert", .16, 6 * time.Hour, 30 * time.Hour},
	} {
		sheet := baseSheet()
		sheet.Limits.Gap = quantity.Length(r.limit)
		g := newPlant(t, sheet, 1).g
		e := &compare.Episode{Finding: cause.Finding{Cause: cause.TransmitterFrozen, Suspect: cause.Transmitter, Tag: "LT-101", Tier: cause.Alert}}
		after := time.Duration(0)
		for !g.TwoAt(int64(after.Seconds()), e) {
			after += r.every
		}
		if after != r.after {
			t.Errorf("%s: after %v, want %v", r.name, after, r.after)
		}
	}
}

// A pressure sensor that reads a fifth too much and a liquid a fifth heavier look
// alike to it, and a flat float hardly feels the difference. What the data sheet says
// may be in the well decides.
func TestSpanIsNoDensityBeyondTheDataSheet(t *testing.T) {
	for _, r := range []struct {
		name      string
		low, high float64
		named     bool
	}{{"sea water", 1.015, 1.028, true}, {"many liquids", .9, 1.25, false}} {
		sheet := *scenario.WellSheet()
		sheet.SGMin, sheet.SGMax = r.low, r.high
		p := newPlant(t, sheet, 2)
		p.step = 6 * time.Minute
		p.level = func(s float64) float64 {
			return 2300 + 900*math.Sin(2*math.Pi*s/44714) + 300*math.Sin(2*math.Pi*s/86164)
		}
		weather := func(mm, period float64) func(s, l float64) float64 {
			return func(s, l float64) float64 { return l + mm*math.Sin(2*math.Pi*s/period) + 8*p.rng.NormFloat64() }
		}
		p.float, p.transmitter, p.second = weather(40, 17000), weather(30, 23000), weather(30, 31000)
		p.run(20 * 24 * time.Hour)
		sound := p.second
		p.second = func(s, l float64) float64 { return 1.2 * sound(s, l) }
		p.run(72 * time.Hour)
		f := p.top()
		if f == nil || f.Tier != cause.Alert {
			t.Fatalf("%s: %+v", r.name, f)
		}
		if blamed := f.Suspect == cause.Transmitter && f.Tag == "PRS-901"; blamed != r.named {
			t.Errorf("%s: %s %s (%s) %v", r.name, f.Suspect, f.Tag, f.Cause, f.Set)
		}
	}
}
