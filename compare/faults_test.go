package compare_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/symptom"
)

// commissioned is a plant that has learned its baseline.
func commissioned(t *testing.T, sheet datasheet.Sheet, seed uint64) *plant {
	t.Helper()
	p := newPlant(t, sheet, seed)
	p.step = time.Minute
	p.run(15 * 24 * time.Hour)
	if f := p.alerts(); len(f) != 0 {
		t.Fatalf("alert while commissioning: %s", f[0].Sentence)
	}
	p.start = p.now
	return p
}

func fine(s *datasheet.Sheet) { s.Float.Follower, s.Float.Pitch = datasheet.Magnetostrictive, 0 }

func withVessel(s *datasheet.Sheet) { fine(s); s.Vessel = &datasheet.Vessel{Tag: "LT-102", U: .002} }

// Faults that need a baseline, or a chamber that can be held against the
// vessel, are found in time and blamed on the right instrument.
func TestCommissionedGaugeFindsFaults(t *testing.T) {
	lag := func(tau float64) func(s, l float64) float64 {
		y, last := math.NaN(), 0.0
		return func(s, l float64) float64 {
			if math.IsNaN(y) {
				y = l
			}
			y += (l - y) * -math.Expm1(-(s-last)/tau)
			last = s
			return y
		}
	}
	rows := []struct {
		name    string
		sheet   func(*datasheet.Sheet)
		set     func(*plant)
		within  time.Duration
		suspect cause.Suspect
		causes  []cause.Cause // any of them
	}{
		{"zero 15 mm, vessel level", withVessel, func(p *plant) { p.transmitter = func(_, l float64) float64 { return l - 15 } }, 5 * time.Hour, cause.Transmitter, nil},
		{"span 4 %, vessel level", withVessel, func(p *plant) { p.transmitter = func(_, l float64) float64 { return 1.04 * l } }, 24 * time.Hour, cause.Transmitter, []cause.Cause{cause.TransmitterSpan}},
		{"float under a ceiling", withVessel, func(p *plant) { p.float = func(_, l float64) float64 { return math.Min(l, 560) } }, 12 * time.Hour, cause.Float, nil},
		{"friction", withVessel, func(p *plant) {
			x := 500.0
			p.float = func(_, l float64) float64 {
				if math.Abs(l-x) > 25 {
					x = l
				}
				return x
			}
		}, 48 * time.Hour, cause.Float, nil},
		{"follower decoupled", fine, func(p *plant) {
			p.float = func(_, l float64) float64 { return l }
			p.indicated = func(_, l float64) float64 { return 500 }
		}, 12 * time.Hour, cause.Follower, []cause.Cause{cause.FollowerDecoupled}},
		{"follower shifted 20 mm", withVessel, func(p *plant) { p.indicated = func(_, l float64) float64 { return l + 20 } }, 12 * time.Hour, cause.Follower, []cause.Cause{cause.FollowerShifted}},
		{"chamber isolated", withVessel, func(p *plant) {
			p.float = func(_, l float64) float64 { return 480 }
			p.transmitter = func(_, l float64) float64 { return 480 }
		}, 12 * time.Hour, cause.Chamber, nil},
		{"lower connection plugging", withVessel, func(p *plant) {
			a, b := lag(1200), lag(1200)
			p.float, p.transmitter = a, b
		}, 24 * time.Hour, cause.Chamber, []cause.Cause{cause.LowerPlug}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			sheet := baseSheet()
			r.sheet(&sheet)
			p := commissioned(t, sheet, 2)
			r.set(p)
			p.run(r.within)
			f := p.top()
			if f == nil || f.Tier != cause.Alert {
				t.Fatalf("no alert after %v: %+v", r.within, f)
			}
			if r.suspect == cause.Undecided && (f.Tag != "LI-101" || f.Set[0].Cause != cause.FloatStuck) {
				t.Errorf("%s first, tag %q; want the float stuck first, float or follower", f.Set[0].Cause, f.Tag)
			}
			t.Logf("%s / %s / %s: %s", f.Symptom, f.Cause, f.Suspect, f.Sentence)
			named := len(r.causes) == 0
			for _, c := range r.causes {
				named = named || f.Cause == c
			}
			if f.Suspect != r.suspect || !named {
				for _, e := range g(p) {
					t.Logf("%+.1f %s for %v against %v", e.Nats, e.Sentence, e.For, e.Against)
				}
				t.Errorf("blamed %s (%s), want %s %v; set %+v", f.Cause, f.Suspect, r.suspect, r.causes, f.Set)
			}
		})
	}
}

func g(p *plant) []cause.Evidence { return p.g.Explain(&p.st) }

// A gauge without a transmitter finds a stuck float by its liquid switches.
func TestFloatAndLiquidSwitchesOnly(t *testing.T) {
	sheet := baseSheet()
	sheet.Transmitter = nil
	for i := range sheet.Points {
		sheet.Points[i].Operated = "liquid"
	}
	p := newPlant(t, sheet, 3)
	p.run(24 * time.Hour)
	if len(p.opened) != 0 {
		t.Fatalf("finding on a healthy gauge: %s", p.opened[0].Sentence)
	}
	p.float = func(_, _ float64) float64 { return 500 }
	p.run(24 * time.Hour)
	f := p.top()
	if f == nil || f.Tier != cause.Alert || f.Symptom != symptom.FloatStill {
		t.Fatalf("got %+v", f)
	}
	for _, r := range f.Set { // a follower that lost the magnet looks the same from outside
		if r.Suspect != cause.Float && r.Suspect != cause.Follower {
			t.Errorf("%s remains", r.Cause)
		}
	}
	if f.Set[0].Cause != cause.FloatStuck || f.Suspect != cause.Undecided {
		t.Errorf("named %s (%s), want the float first and the follower not refuted", f.Cause, f.Suspect)
	}
}

// A float the data sheet gives no follower leaves the transmitter alone: no
// pair, no finding, and the blind spots say so.
func TestTransmitterOnly(t *testing.T) {
	sheet := baseSheet()
	sheet.Float.Follower = datasheet.NoFollower
	sheet.Points = nil
	p := newPlant(t, sheet, 4)
	p.run(48 * time.Hour)
	if len(p.opened) != 0 || len(p.last.Verdicts) != 0 {
		t.Fatalf("opened %+v, verdicts %+v", p.opened, p.last.Verdicts)
	}
	found := false
	for _, b := range p.g.Blind(p.now, &p.st) {
		found = found || b.Structural && strings.HasPrefix(b.ID, "unseen-lt-101")
	}
	if !found {
		t.Error("a transmitter nobody can contradict is no blind spot")
	}
}

// A process upset that every instrument sees is no finding.
func TestUpsetSeenByAllIsNoFinding(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := newPlant(t, sheet, 5)
	calm := p.level
	p.level = func(s float64) float64 {
		if h := math.Mod(s, 12*3600); h < 1800 {
			return 120 + 760*h/1800
		}
		return calm(s)
	}
	p.run(72 * time.Hour)
	for _, f := range p.opened {
		t.Errorf("%s: %s", f.Symptom, f.Sentence)
	}
}

// A fault present from the first scan cannot hide in the baseline.
func TestFaultFromTheStartIsNotLearned(t *testing.T) {
	p := newPlant(t, baseSheet(), 6)
	p.step = time.Minute
	p.transmitter = func(_, l float64) float64 { return l + 60 }
	p.run(20 * 24 * time.Hour)
	f := p.top()
	if f == nil || f.Tier != cause.Alert || math.Abs(f.Value.Millimetres()+60) > 8 {
		t.Fatalf("got %+v", f)
	}
	for pair, b := range p.st.Base {
		if b.Known {
			t.Errorf("pair %d learned %.0f mm as normal", pair, b.Offset)
		}
	}
}

// While the chamber is isolated by record nothing is concluded; back in
// service the tests start afresh. A repair ends the findings about its
// instrument, and nothing is announced again.
func TestMaintenance(t *testing.T) {
	p := newPlant(t, baseSheet(), 7)
	p.run(6 * time.Hour)
	p.st.Maintain(compare.Work{Kind: compare.WorkIsolated, At: p.now})
	p.float = func(_, _ float64) float64 { return 100 }
	p.run(24 * time.Hour)
	if len(p.opened) != 0 || p.last.Category != compare.FunctionCheck {
		t.Fatalf("isolated: %+v, category %s", p.opened, p.last.Category)
	}
	p.float = nil
	p.st.Maintain(compare.Work{Kind: compare.WorkReturned, At: p.now})
	p.run(6 * time.Hour)
	if len(p.opened) != 0 {
		t.Fatalf("back in service: %+v", p.opened)
	}
	p.float = func(_, _ float64) float64 { return 520 }
	p.run(8 * time.Hour)
	if len(p.alerts()) == 0 {
		t.Fatal("stuck float not found")
	}
	p.float = nil
	p.st.Maintain(compare.Work{Kind: compare.WorkRepaired, At: p.now, Tag: "LI-101"})
	before := len(p.opened)
	p.run(12 * time.Hour)
	if len(p.last.Findings) != 0 || len(p.closed) == 0 || len(p.opened) != before {
		t.Errorf("after the repair: open %+v, closed %d, opened %d", p.last.Findings, len(p.closed), len(p.opened)-before)
	}
}

// An alert is announced once, however long it lasts, and a change of mind at
// most once an hour.
func TestAnnouncedOnce(t *testing.T) {
	p := newPlant(t, baseSheet(), 1)
	p.run(3 * time.Hour)
	p.float = func(_, _ float64) float64 { return 450 }
	p.run(60 * time.Hour)
	if n := len(p.upgraded); n > 3 || len(p.opened) > 2 {
		t.Errorf("%d opened, %d upgraded", len(p.opened), n)
	}
	if f := p.top(); f == nil || f.Suspect != cause.Float {
		t.Errorf("after sixty hours: %+v", f)
	}
}

// What moved past a level with a witness is proven, a flat line proves
// nothing, and the switches' exercise is told in neutral words.
func TestProvenAndExercise(t *testing.T) {
	p := newPlant(t, baseSheet(), 8)
	p.level = func(s float64) float64 { return 600 }
	p.run(24 * time.Hour)
	for _, x := range p.g.Proven(&p.st) {
		if !x.At.IsZero() {
			t.Fatalf("a flat line proved %+v", x)
		}
	}
	p.level = wander(8)
	p.run(24 * time.Hour)
	float, up := 0, 0
	for _, x := range p.g.Proven(&p.st) {
		switch {
		case x.Tag == "LI-101" && !x.At.IsZero():
			float++
			if x.Witness != "LT-101" || math.Abs(x.Difference.Millimetres()) > 25 {
				t.Errorf("proof %+v", x)
			}
		case x.Tag == "LSH-101" && !x.At.IsZero():
			up++
		}
	}
	if float < 8 || up != 2 {
		t.Errorf("%d bins of the float and %d directions of LSH-101 proven", float, up)
	}
	text := strings.Join(p.g.Exercise(&p.st, 1), " ")
	for _, want := range []string{"changed state at an indicated level of", "may be considered by the user", "does not test the logic solver"} {
		if !strings.Contains(text, want) {
			t.Errorf("exercise does not say %q: %s", want, text)
		}
	}
	for _, never := range []string{"interval", "month", "year"} {
		if strings.Contains(text, never) {
			t.Errorf("exercise speaks of %q", never)
		}
	}
}

// Settle offers tests for the set that is open; Explain gives its evidence.
func TestSettleAndExplain(t *testing.T) {
	p := newPlant(t, baseSheet(), 2)
	if p.g.Settle(&p.st) != nil {
		t.Error("a new gauge has something to settle")
	}
	p.transmitter = func(_, l float64) float64 { return l + 25 }
	p.run(20 * time.Hour)
	tests := p.g.Settle(&p.st)
	if len(tests) == 0 || tests[0].Splits <= 0 {
		t.Fatalf("tests %+v", tests)
	}
	lines := p.g.Explain(&p.st)
	if len(lines) == 0 {
		t.Fatal("no evidence")
	}
	for _, e := range lines {
		if e.Sentence == "" || e.From.IsZero() || e.To.Before(e.From) || e.Nats == 0 {
			t.Errorf("line %+v", e)
		}
	}
}
