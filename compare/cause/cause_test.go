package cause_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
)

func sheet() *datasheet.Sheet {
	return &datasheet.Sheet{Tag: "LG-1", Float: datasheet.Float{Tag: "LI-1", Follower: datasheet.Magnetostrictive},
		Transmitter: &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.Radar}}
}

// The bank holds only causes the gauge can have.
func TestBankFitsTheGauge(t *testing.T) {
	has := func(s *datasheet.Sheet, c cause.Cause) bool {
		return slices.ContainsFunc(cause.Bank(s), func(h cause.Hypothesis) bool { return h.Cause == c })
	}
	s := sheet()
	if !has(s, cause.RadarDisturbed) || has(s, cause.LegEmpty) || has(s, cause.LowerPlug) || !has(s, cause.Unknown) {
		t.Errorf("radar without a vessel level: %+v", cause.Bank(s))
	}
	s.Transmitter.Principle, s.Vessel = datasheet.DPWet, &datasheet.Vessel{Tag: "LT-2"}
	if has(s, cause.RadarDisturbed) || !has(s, cause.LegEmpty) || !has(s, cause.LowerPlug) {
		t.Errorf("wet leg with a vessel level: %+v", cause.Bank(s))
	}
	s.Float.Follower = datasheet.NoFollower
	if has(s, cause.FloatStuck) {
		t.Error("a float nobody reads can be found stuck")
	}
}

// Evidence adds up; a name needs odds of twenty to one, a suspect the same
// over all causes that blame one instrument.
func TestNamesNeedTwentyToOne(t *testing.T) {
	rows := []struct {
		name    string
		weights map[cause.Cause]float64
		cause   cause.Cause
		suspect cause.Suspect
	}{
		{"nothing known", nil, cause.Unknown, cause.Undecided},
		{"stuck or partly stuck", map[cause.Cause]float64{cause.FloatStuck: 8, cause.FloatPartlyStuck: 9}, cause.Unknown, cause.Float},
		{"stuck", map[cause.Cause]float64{cause.FloatStuck: 12, cause.FloatPartlyStuck: 4}, cause.FloatStuck, cause.Float},
		{"float or transmitter", map[cause.Cause]float64{cause.FloatHeavier: 9, cause.TransmitterDrift: 9}, cause.Unknown, cause.Undecided},
		{"transmitter drift", map[cause.Cause]float64{cause.TransmitterDrift: 10}, cause.TransmitterDrift, cause.Transmitter},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			l := cause.NewLedger(cause.Bank(sheet()))
			l.Add(cause.Evidence{Sentence: "seen"}, func(h *cause.Hypothesis) float64 { return r.weights[h.Cause] })
			ranked := l.Rank()
			total := 0.0
			for _, x := range ranked {
				total += x.Probability
			}
			if math.Abs(total-1) > 1e-12 || ranked[0].Nats != 0 {
				t.Errorf("probabilities add up to %.15f, best at %g nats", total, ranked[0].Nats)
			}
			c, by, _ := cause.Name(ranked)
			if c != r.cause || by != r.suspect {
				t.Errorf("named %s (%s), want %s (%s)", c, by, r.cause, r.suspect)
			}
			if r.weights == nil && len(l.Lines) != 0 {
				t.Errorf("a line that weighs nothing was entered: %+v", l.Lines)
			}
		})
	}
}

// The order evidence is entered in does not matter.
func TestLedgerOrder(t *testing.T) {
	enter := func(order []int) []cause.Ranked {
		l := cause.NewLedger(cause.Bank(sheet()))
		lines := []func(h *cause.Hypothesis) float64{
			func(h *cause.Hypothesis) float64 {
				return map[cause.Cause]float64{cause.FloatStuck: 3.3, cause.TransmitterZero: -2}[h.Cause]
			},
			func(h *cause.Hypothesis) float64 { return map[cause.Cause]float64{cause.TransmitterZero: 4}[h.Cause] },
			func(h *cause.Hypothesis) float64 {
				return map[cause.Cause]float64{cause.FloatStuck: -1, cause.DensityWrong: 2}[h.Cause]
			},
		}
		for _, i := range order {
			l.Add(cause.Evidence{}, lines[i])
		}
		return l.Rank()
	}
	a, b := enter([]int{0, 1, 2}), enter([]int{2, 0, 1})
	for i := range a {
		if a[i].Cause != b[i].Cause || math.Abs(a[i].Probability-b[i].Probability) > 1e-12 {
			t.Fatalf("%+v and %+v", a[i], b[i])
		}
	}
}

// A test is offered only where it splits the set, its outcomes keep every
// cause of the set, and it carries cautions and a permit.
func TestSettleSplits(t *testing.T) {
	set := []cause.Ranked{{Cause: cause.FloatStuck, Probability: .5}, {Cause: cause.FollowerDecoupled, Probability: .3}, {Cause: cause.TransmitterZero, Probability: .2}}
	tests := cause.Settle(set)
	if len(tests) < 2 {
		t.Fatalf("%d tests", len(tests))
	}
	for _, x := range tests {
		var kept []cause.Cause
		for _, o := range x.Outcomes {
			kept = append(kept, o.Means...)
		}
		for _, r := range set {
			if !slices.Contains(kept, r.Cause) {
				t.Errorf("%s: no outcome means %s", x.Name, r.Cause)
			}
		}
		if x.Splits <= 0 || x.Splits > math.Log(3)+1e-9 || x.Minutes <= 0 || x.Permit == "" || len(x.Cautions) == 0 || len(x.Steps) == 0 {
			t.Errorf("%s: %+v", x.Name, x)
		}
	}
	for _, x := range cause.Settle([]cause.Ranked{{Cause: cause.FloatStuck, Probability: .6}, {Cause: cause.FloatSunk, Probability: .4}}) {
		if x.Name == "look at the valves" {
			t.Error("valves do not split a stuck from a sunk float")
		}
	}
}

// Where one cause remains, the tests are those that would confirm it, every
// page names the same one first, and nothing is listed that does not matter.
func TestSettleConfirms(t *testing.T) {
	set := []cause.Ranked{{Cause: cause.PointFailed, Probability: 1}}
	tests := cause.Settle(set)
	if len(tests) != 1 || tests[0].Name != "move the level past the switch" || len(tests[0].Outcomes) != 2 {
		t.Fatalf("a failed point is confirmed by %+v", tests)
	}
	if next := cause.Next(cause.PointFailed, "", set); next != tests[0].Line() || next != "Move the level past the switch, trips that use it inhibited as the site requires, 10 min." {
		t.Errorf("next %q, first test %q", next, tests[0].Line())
	}
	if prove := cause.WouldProve(cause.PointFailed, set); prove != "move the level past the switch: contact does not change" {
		t.Errorf("would prove it: %q", prove)
	}
	set = []cause.Ranked{{Cause: cause.FloatStuck, Probability: .9}, {Cause: cause.FollowerDecoupled, Probability: .1}}
	if next := cause.Next(cause.FloatStuck, "", set); !strings.HasPrefix(next, "Pass a magnet along the follower") {
		t.Errorf("a drain test does not tell a stuck float from a lost follower, and next is %q", next)
	}
	if next := cause.Next(cause.FloatStuck, "", set[:1]); next != "Drain and watch under the site's permit, 10 min." {
		t.Errorf("next %q", next)
	}
}

// A cause that stands alone is confirmed by what shows it and little else, and
// nothing is opened for what can be seen from outside.
func TestOneCauseIsConfirmed(t *testing.T) {
	for c, want := range map[cause.Cause]string{
		cause.FloatStuck: "drain and watch", cause.FloatSunk: "open the chamber and look at the float", cause.FloatHeavier: "open the chamber and look at the float",
		cause.DensityWrong: "take a sample and measure its density", cause.UpperDensityWrong: "take samples across the interface", cause.Emulsion: "take samples across the interface",
		cause.FollowerDecoupled: "pass a magnet along the follower", cause.FollowerShifted: "measure the follower and the switches against their marks",
		cause.TransmitterZero: "simulate the transmitter's signal", cause.TransmitterSpan: "simulate the transmitter's signal", cause.TransmitterDrift: "simulate the transmitter's signal",
		cause.TransmitterFrozen: "simulate the transmitter's signal", cause.TransmitterLimit: "simulate the transmitter's signal", cause.TransmitterQuiet: "simulate the transmitter's signal",
		cause.TransmitterNoisy: "compare display and loop current, look at the wiring", cause.FollowerNoisy: "compare display and loop current, look at the wiring",
		cause.VesselNoisy: "compare display and loop current, look at the wiring", cause.SurfaceUnquiet: "watch the scatter while heating, filling and agitator pause",
		cause.RadarDisturbed: "look at the echo curve", cause.LegEmpty: "check and top up the reference leg", cause.LegPartlyFilled: "check and top up the reference leg",
		cause.LegPlugged: "blow down one line at a time", cause.DisplacerDisturbed: "hang a known weight on the displacer",
		cause.PointFailed: "move the level past the switch", cause.PointShifted: "measure the follower and the switches against their marks", cause.PointWorn: "move the level past the switch",
		cause.LowerPlug: "drain and watch", cause.UpperPlug: "drain and watch", cause.ChamberIsolated: "look at the valves",
		cause.VesselInstrument: "compare the vessel instrument with another level", cause.TimeSkew: "simulate the transmitter's signal",
	} {
		tests := cause.Settle([]cause.Ranked{{Cause: c, Probability: 1}})
		if len(tests) == 0 || tests[0].Name != want {
			t.Errorf("%s is confirmed by %+v, want %s", c, tests, want)
			continue
		}
		outcome := tests[0].Outcomes[0]
		if len(outcome.Means) != 1 || outcome.Means[0] != c {
			t.Errorf("%s: the first outcome of %s means %v", c, want, outcome.Means)
		}
	}
}

// Every two causes of different instruments are told apart by some test, and
// every outcome of it leaves less than both.
func TestEveryCoupleIsSplit(t *testing.T) {
	for i, a := range cause.All {
		for _, b := range cause.All[i+1:] {
			if alone(a) || alone(b) {
				continue
			}
			tests := cause.Settle([]cause.Ranked{{Cause: a, Probability: .6}, {Cause: b, Probability: .4}})
			if len(tests) == 0 {
				t.Errorf("nothing tells %s from %s", a, b)
				continue
			}
			for _, o := range tests[0].Outcomes {
				if len(o.Means) > 1 {
					t.Errorf("%s leaves %v after %q", tests[0].Name, o.Means, o.Seen)
				}
			}
		}
	}
}

// alone reports whether a cause is never weighed against another.
func alone(c cause.Cause) bool {
	return c == cause.NoSignal || c == cause.OutsideDataSheet || c == cause.TwoFaults || c == cause.TransmitterQuiet || c == cause.PointWorn
}

// Of findings that name the same two instruments the first is told.
func TestSameTwoFaultsAreToldOnce(t *testing.T) {
	at := func(c cause.Cause, by cause.Suspect, tag string, chance float64) cause.Ranked {
		return cause.Ranked{Cause: c, Suspect: by, Tag: tag, Probability: chance}
	}
	follower := at(cause.FollowerShifted, cause.Follower, "LI-1", .9)
	zero, drift := at(cause.TransmitterZero, cause.Transmitter, "LT-1", .9), at(cause.TransmitterDrift, cause.Transmitter, "LT-1", .9)
	other, hardly := at(cause.TransmitterZero, cause.Transmitter, "LT-2", .2), at(cause.DensityWrong, cause.Density, "LI-1", .01)
	two := func(id string, set ...cause.Ranked) cause.Finding {
		return cause.Finding{ID: id, Cause: cause.TwoFaults, Set: set}
	}
	one := cause.Finding{ID: "single", Cause: cause.TransmitterZero, Set: []cause.Ranked{zero, drift}}
	var left []string
	for _, f := range cause.Distinct([]cause.Finding{one, two("first", follower, zero), one, two("again", drift, follower), two("hardly", zero, follower, hardly), two("wider", follower, zero, other), two("else", follower, other)}) {
		left = append(left, f.ID)
	}
	if want := []string{"single", "first", "single", "wider", "else"}; !slices.Equal(left, want) {
		t.Errorf("left %v, want %v", left, want)
	}
}

// What would prove it is of the test that comes next, whatever causes remain: two
// tests on one page would have somebody do both.
func TestNextAndProofAreOfOneTest(t *testing.T) {
	check := func(set ...cause.Ranked) {
		t.Helper()
		tests := cause.Settle(set)
		if len(tests) == 0 {
			return
		}
		c := cause.Unknown
		if len(set) == 1 {
			c = set[0].Cause
		}
		next, prove := cause.Next(c, "", set), cause.WouldProve(c, set)
		if next != tests[0].Line() || !strings.HasPrefix(prove, tests[0].Name+": ") {
			t.Errorf("%v: next is %q, and what would prove it %q", set, next, prove)
		}
	}
	for _, a := range cause.All {
		check(cause.Ranked{Cause: a, Probability: 1})
		for _, b := range cause.All {
			if a != b {
				check(cause.Ranked{Cause: a, Probability: .6}, cause.Ranked{Cause: b, Probability: .4})
				check(cause.Ranked{Cause: a, Probability: .5}, cause.Ranked{Cause: b, Probability: .3}, cause.Ranked{Cause: cause.LowerPlug, Probability: .2})
			}
		}
	}
	set := []cause.Ranked{{Cause: cause.FloatStuck, Probability: .5}, {Cause: cause.FloatSunk, Probability: .1}, {Cause: cause.TransmitterFrozen, Probability: .4}}
	if prove := cause.WouldProve(cause.Unknown, set); prove != "drain and watch: transmitter falls, float does not follow, which leaves float stuck or float sunk or collapsed; then open the chamber and look at the float" {
		t.Errorf("what is left after the first test: %q", prove)
	}
}

// Two faults at once: no outcome clears one of them, and what would prove each
// is said.
func TestTwoFaultsAreBothProven(t *testing.T) {
	set := []cause.Ranked{{Cause: cause.FollowerShifted, Tag: "LI-1", Probability: .5}, {Cause: cause.TransmitterZero, Tag: "LT-1", Probability: .5}}
	tests := cause.SettleBoth(set)
	if len(tests) == 0 {
		t.Fatal("no test")
	}
	for _, x := range tests {
		if last := x.Steps[len(x.Steps)-1]; !strings.Contains(last, "what is left is the other fault") {
			t.Errorf("%s ends with %q", x.Name, last)
		}
		for _, o := range x.Outcomes {
			if len(o.Means) == 1 && !strings.Contains(o.Seen, "the other fault may show") {
				t.Errorf("%s: %q seems to clear one of two", x.Name, o.Seen)
			}
		}
	}
	if len(cause.Settle(set)[0].Steps) == len(tests[0].Steps) {
		t.Error("the list of tests itself was changed")
	}
	if s := cause.Together(set); s != "No single fault explains this. Two at once probably do: follower shifted on the chamber (LI-1) and transmitter zero shifted (LT-1)." {
		t.Error(s)
	}
	prove := cause.WouldProve(cause.TwoFaults, set)
	if !strings.HasPrefix(prove, tests[0].Name+": follower has moved; put one right") || !strings.Contains(prove, "known from a drain") {
		t.Error(prove)
	}
}

// Every cause has words, and none of them is an alarm.
func TestEveryCauseHasWords(t *testing.T) {
	for _, c := range cause.All {
		text := cause.Meaning(c, "LT-1") + cause.Phrase(c) + cause.Next(c, cause.Float, nil)
		if strings.Contains(text, "%") || strings.Contains(text, "alarm") || !strings.Contains(cause.Next(c, "", nil), "min") && !strings.Contains(cause.Next(c, "", nil), " h") {
			t.Errorf("%s: %q", c, text)
		}
		if cause.Phrase(c) == cause.Phrase(cause.Unknown) {
			t.Errorf("%s has no words", c)
		}
	}
}

// Noise: what splits the instrument from foam and from the surface comes with its
// cautions, and closing the chamber is no test of an instrument on the vessel.
func TestNoiseIsSettled(t *testing.T) {
	set := func(causes ...cause.Cause) (s []cause.Ranked) {
		for _, c := range causes {
			s = append(s, cause.Ranked{Cause: c, Probability: 1 / float64(len(causes))})
		}
		return s
	}
	isolates := func(tests []cause.Test) *cause.Test {
		for i := range tests {
			if strings.HasPrefix(tests[i].Name, "isolate the chamber") {
				return &tests[i]
			}
		}
		return nil
	}
	x := isolates(cause.Settle(set(cause.TransmitterNoisy, cause.SurfaceUnquiet)))
	if x == nil || len(x.Cautions) < 4 || !strings.Contains(x.Cautions[0], "shows nothing of the vessel") || x.Splits < 0.6 {
		t.Errorf("closing the chamber splits a noisy transmitter from an unquiet surface: %+v", x)
	}
	if x := isolates(cause.Settle(set(cause.VesselNoisy, cause.SurfaceUnquiet))); x != nil {
		t.Errorf("closing the chamber says nothing about the vessel's instrument: %+v", x)
	}
	if tests := cause.Settle(set(cause.VesselNoisy, cause.SurfaceUnquiet)); tests[0].Name != "watch the scatter while heating, filling and agitator pause" {
		t.Errorf("first is %s", tests[0].Name)
	}
	if tests := cause.Settle(set(cause.TransmitterNoisy, cause.RadarDisturbed)); tests[0].Name != "look at the echo curve" {
		t.Errorf("a noisy radar or foam: first is %s", tests[0].Name)
	}
}
