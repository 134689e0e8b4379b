package cause

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
)

// expected is one outcome of a test with the causes that lead to it; causes
// named in no outcome lead to the last one.
type expected struct {
	seen   string
	causes []Cause
}

// procedure is a test with what each cause makes it show.
type procedure struct {
	Test
	outcomes []expected
}

// besideChamber is a test of a chamber: it says nothing about an instrument on the
// vessel.
const besideChamber = "isolate the chamber for some minutes and watch the scatter"

// Permits and kinds of work order.
const (
	openPermit   = "work on pressure equipment: isolation and permit as the site requires"
	ordinaryWork = "ordinary work order"
	bypassWork   = "work order; inhibit the trips that use the signal as the site requires"
)

// anythingElse is what a test shows when none of the causes that remain is it.
const anythingElse = "anything else"

const deferToSite = "Local codes, the site's procedures and competent people decide; this is a suggestion."

// openCautions go with every work on a chamber under pressure.
func openCautions() []string {
	return []string{
		"Contents may be hot, toxic or flammable and under pressure: drain to a closed system.",
		"Tell the control room first: level trips and alerts of this chamber may act.",
		deferToSite,
	}
}

// isolateCautions go with closing the valves of a chamber.
func isolateCautions() []string {
	return []string{
		"A closed chamber shows nothing of the vessel: open it at once when another level nears a limit.",
		"Never close both valves on a full chamber that may warm up: liquid has nowhere to go.",
	}
}

// lookCautions go with work that opens nothing.
func lookCautions() []string {
	return []string{"Tell the control room first.", "Chamber and piping may be hot or cold enough to hurt.", deferToSite}
}

// circuitCautions go with work on the circuit of an instrument.
func circuitCautions() []string {
	return append([]string{"Where gas or vapour may burn, use only apparatus approved for that area, and open no housing without the permit for it."}, lookCautions()...)
}

// magnetCaution goes with a strong magnet in the hand.
const magnetCaution = "A strong magnet disturbs pacemakers and other implants, pinches fingers, and may trip the switches it passes."

// known are the procedures, made once: a set is settled at every weighing.
var known = procedures()

// procedures is the list of tests the trade knows for a chamber.
func procedures() []procedure {
	floatStays := []Cause{FloatStuck, FloatSunk, FollowerDecoupled}
	floatPartly := []Cause{FloatPartlyStuck, FloatOneWay, FloatStickSlip}
	quiet := []Cause{TransmitterFrozen, TransmitterLimit, LegPlugged}
	return []procedure{
		{Test{Name: "drain and watch", Minutes: 10, Tools: []string{"radio", "drain hose or closed drain"}, Permit: openPermit, Cautions: openCautions(),
			Steps: []string{"Note float, transmitter and every switch.", "Close the lower valve and open the drain until the level has fallen about 100 mm.", "Watch which instruments follow and how far.", "Close the drain, open the lower valve, watch the refill and its time.", "Open the vent a little and watch whether the level jumps, then close it."}},
			[]expected{
				{"transmitter falls, float does not follow", floatStays},
				{"float follows, transmitter does not", quiet},
				{"float stays behind in part of the travel", []Cause{FloatPartlyStuck}},
				{"float follows one way and not the other", []Cause{FloatOneWay}},
				{"float moves in jumps", []Cause{FloatStickSlip}},
				{"both follow, refill is slow", []Cause{LowerPlug}},
				{"the level does not come back", []Cause{ChamberIsolated}},
				{"the level jumps when vented", []Cause{UpperPlug}},
				{"both follow, the gap stays the same", []Cause{TransmitterZero, TransmitterDrift, FollowerShifted, FloatHeavier, DensityWrong, UpperDensityWrong, Emulsion, LegPartlyFilled, DisplacerDisturbed}},
				{"both follow, the gap changes with the level", []Cause{TransmitterSpan, LegEmpty}},
				{"both follow, the gap vanishes", []Cause{RadarDisturbed, TimeSkew, VesselInstrument}},
			}},
		{Test{Name: "pass a magnet along the follower", Minutes: 15, Tools: []string{"test magnet"}, Permit: bypassWork, Cautions: append([]string{magnetCaution}, lookCautions()...),
			Steps: []string{"Inhibit what acts on the float's signal.", "Move a strong magnet along the follower past the float.", "Watch whether the signal takes the magnet and keeps the float again."}},
			[]expected{
				{"signal follows the magnet and then finds the float elsewhere", []Cause{FollowerDecoupled}},
				{"signal follows the magnet and returns to where it was", append([]Cause{FloatStuck, FloatPartlyStuck, FloatOneWay, FloatSunk, FloatHeavier}, DensityWrong, UpperDensityWrong)},
				{"signal follows the magnet but is off by the gap", []Cause{FollowerShifted}},
				{"nothing new", nil},
			}},
		{Test{Name: "simulate the transmitter's signal", Minutes: 30, Tools: []string{"loop calibrator", "communicator"}, Permit: bypassWork, Cautions: circuitCautions(),
			Steps: []string{"Inhibit what acts on the signal.", "Let the transmitter give 4, 12 and 20 mA.", "Compare with what arrives.", "Read device status, zero, span and damping against the last record."}},
			[]expected{
				{"signal or zero is off against the record", []Cause{TransmitterZero, FollowerShifted}},
				{"zero is off and was off by less at the record before", []Cause{TransmitterDrift}},
				{"span is off", []Cause{TransmitterSpan}},
				{"device holds its output or reports a fault", []Cause{TransmitterFrozen, TransmitterQuiet}},
				{"device stands at the end of its range", []Cause{TransmitterLimit}},
				{"damping differs from the record", []Cause{TimeSkew}},
				{"nothing wrong", nil},
			}},
		{Test{Name: "take a sample and measure its density", Minutes: 30, Tools: []string{"sample bottle", "hydrometer or density meter"}, Permit: openPermit, Cautions: openCautions(),
			Steps: []string{"Take a sample at the drain after flushing.", "Measure density and temperature.", "Compare with the density shown here."}},
			[]expected{{"density differs from the one used", []Cause{DensityWrong}}, {"density is as used", nil}}},
		{Test{Name: "take samples across the interface", Minutes: 45, Tools: []string{"sample bottles", "hydrometer or density meter", "clear glass cylinder"}, Permit: openPermit, Cautions: openCautions(),
			Steps: []string{"Note float and transmitter.", "Take a sample from below, from the height of and from above the interface, by the sample points there are, after flushing each.",
				"Let each settle in a glass for ten minutes and see whether it parts.", "Measure density and temperature of what is clear below and above, compare with the densities shown here."}},
			[]expected{
				{"a sample from the interface stays mixed or parts slowly", []Cause{Emulsion}},
				{"the upper liquid has another density than used", []Cause{UpperDensityWrong}},
				{"both part at once, and the upper liquid is as used", nil},
			}},
		{Test{Name: "look at the echo curve", Minutes: 15, Tools: []string{"communicator"}, Permit: ordinaryWork, Cautions: circuitCautions(),
			Steps: []string{"Read the echo curve.", "Compare with the one stored at commissioning."}},
			[]expected{{"second, broad or weak echo", []Cause{RadarDisturbed, Emulsion}}, {"one clean echo", nil}}},
		{Test{Name: "compare display and loop current, look at the wiring", Minutes: 30, Tools: []string{"multimeter", "communicator"}, Permit: bypassWork, Cautions: circuitCautions(),
			Steps: []string{"Inhibit what acts on the signal.", "Watch the device's own display, or its digital value, for two minutes and note how far it goes to and fro.",
				"Measure the loop current at the device's test terminals, then at the input card.", "Look at terminals, plugs, screen, earthing and supply voltage, and move the cable gently.", "Compare the damping with the last record."}},
			[]expected{
				{"the transmitter scatters by itself, in its loop or by another damping", []Cause{TransmitterNoisy}},
				{"the follower scatters by itself or in its loop", []Cause{FollowerNoisy}},
				{"the vessel instrument scatters by itself, in its loop or by another damping", []Cause{VesselNoisy}},
				{"devices, loops and damping are as they should be", nil},
			}},
		{Test{Name: besideChamber, Minutes: 20, Tools: []string{"radio"}, Permit: bypassWork,
			Cautions: append(isolateCautions(), lookCautions()...),
			Steps: []string{"Inhibit what acts on the signal and keep another level of the vessel in view.", "Close the upper, then the lower valve and wait two minutes for the surface to come to rest.",
				"Note how far the reading goes to and fro.", "Open the lower, then the upper valve and watch whether it changes."}},
			[]expected{
				{"the reading scatters over the still surface as before", []Cause{TransmitterNoisy, FollowerNoisy}},
				{"the scatter goes at once and comes back with the valves open", []Cause{SurfaceUnquiet}},
				{"nothing new", nil},
			}},
		{Test{Name: "watch the scatter while heating, filling and agitator pause", Minutes: 15, Tools: []string{"radio"}, Permit: ordinaryWork, Cautions: append([]string{"Only as far as operations can let them pause."}, lookCautions()...),
			Steps: []string{"Ask operations when heating, filling or agitator pause, or to let them.", "Note how far the reading goes to and fro before, during and after."}},
			[]expected{{"the scatter goes while they pause", []Cause{SurfaceUnquiet}}, {"the scatter stays", nil}}},
		{Test{Name: "look at the valves", Minutes: 5, Tools: nil, Permit: ordinaryWork, Cautions: lookCautions(),
			Steps: []string{"Look at both isolation valves and the drain and vent valve."}},
			[]expected{{"a valve is not as it should be", []Cause{ChamberIsolated}}, {"valves are open", nil}}},
		{Test{Name: "blow down one line at a time", Minutes: 30, Tools: []string{"drain hose"}, Permit: openPermit, Cautions: openCautions(),
			Steps: []string{"Inhibit what acts on the signal.", "Blow down the lower connection, watch the refill.", "Blow down the upper connection, watch the level."}},
			[]expected{
				{"little comes from the lower connection", []Cause{LowerPlug}},
				{"little comes from the upper connection", []Cause{UpperPlug}},
				{"impulse line of the transmitter gives little", []Cause{LegPlugged}},
				{"nothing comes from either", []Cause{ChamberIsolated}},
				{"both are free", nil},
			}},
		{Test{Name: "check and top up the reference leg", Minutes: 45, Tools: []string{"fill fluid", "hand pump"}, Permit: openPermit, Cautions: openCautions(),
			Steps: []string{"Inhibit what acts on the signal.", "Open the fill plug of the leg and top up.", "Note how much was missing and what the reading does."}},
			[]expected{{"much is missing", []Cause{LegEmpty}}, {"a little is missing", []Cause{LegPartlyFilled}}, {"leg is full", nil}}},
		{Test{Name: "measure the follower and the switches against their marks", Minutes: 10, Tools: []string{"tape"}, Permit: ordinaryWork, Cautions: lookCautions(),
			Steps: []string{"Measure the elevation of the follower's zero and of each switch from the lower tap.", "Compare with the data sheet."}},
			[]expected{{"follower has moved", []Cause{FollowerShifted}}, {"a switch has moved", []Cause{PointShifted}}, {"all at their marks", nil}}},
		{Test{Name: "open the chamber and look at the float", Minutes: 120, Tools: []string{"gaskets", "scale"}, Permit: openPermit, Cautions: openCautions(),
			Steps: []string{"Isolate, drain and vent the chamber.", "Take the float out, look for deposit and dents, weigh it.", "Clean the bore, refit, refill, compare as found and as left."}},
			[]expected{
				{"float is heavier than its plate says", []Cause{FloatHeavier}},
				{"float has water inside or is dented", []Cause{FloatSunk}},
				{"deposit in the bore or on the float", append([]Cause{FloatStuck}, floatPartly...)},
				{"float is as new", nil},
			}},
		{Test{Name: "hang a known weight on the displacer", Minutes: 60, Tools: []string{"test weights", "communicator"}, Permit: openPermit, Cautions: openCautions(),
			Steps: []string{"Inhibit what acts on the signal.", "Isolate, drain and vent the displacer's chamber.", "Take the displacer off, look for deposit, hang known weights and compare the signal with what each should give."}},
			[]expected{{"the signal sticks or is off with the weights, or the displacer carries deposit", []Cause{DisplacerDisturbed}}, {"clean, and right with every weight", nil}}},
		{Test{Name: "compare the vessel instrument with another level", Minutes: 30, Tools: []string{"radio"}, Permit: ordinaryWork, Cautions: lookCautions(),
			Steps: []string{"Compare the vessel instrument with a second level of the vessel or with a known filling."}},
			[]expected{{"vessel instrument is off", []Cause{VesselInstrument}}, {"vessel instrument is right", nil}}},
		{Test{Name: "move the level past the switch", Minutes: 10, Tools: []string{"radio"}, Permit: bypassWork, Cautions: append(openCautions(), magnetCaution),
			Steps: []string{"Move the level, or a test magnet, past the switch both ways.", "Note at which level the contact changes."}},
			[]expected{{"contact does not change", []Cause{PointFailed}}, {"contact changes at another level", []Cause{PointShifted}}, {"contact changes late both ways", []Cause{PointWorn}}, {"contact changes at its level", nil}}},
	}
}

// Settle ranks the tests that would split the causes of a set, the one that
// tells most first. A test that can show only one thing is left out. Where one
// cause remains, the tests are those that would confirm it.
func Settle(set []Ranked) []Test {
	var tests []Test
	for _, p := range known {
		if p.Name == besideChamber && slices.ContainsFunc(set, func(r Ranked) bool { return r.Cause == VesselNoisy }) {
			continue
		}
		if t := p.against(set); t.Splits > 0.01 || len(set) == 1 && p.names(set[0].Cause) {
			tests = append(tests, t)
		}
	}
	worth := func(t *Test) float64 { return t.worth() }
	if len(set) == 1 {
		worth = func(t *Test) float64 { return t.confirms(set[0].Cause) }
	}
	sort.SliceStable(tests, func(i, j int) bool { return worth(&tests[i]) > worth(&tests[j]) })
	return tests
}

// openEffort is what opening a chamber or a line costs above the minutes, in
// minutes (common practice, no source).
const openEffort = 30

// confirms is how well a test shows one cause and not another, per effort:
// little where many causes lead to the same outcome.
func (t *Test) confirms(c Cause) float64 {
	effort := float64(t.Minutes) + 10
	if t.Permit == openPermit {
		effort += openEffort
	}
	i := slices.IndexFunc(known, func(p procedure) bool { return p.Name == t.Name })
	return 1 / (float64(len(known[i].outcomes[known[i].leadsTo(c)].causes)) * math.Sqrt(effort))
}

// SettleBoth ranks the tests for faults that are there at once. What shows one
// of them does not clear the other.
func SettleBoth(set []Ranked) []Test {
	tests := Settle(set)
	for i := range tests {
		t := &tests[i]
		t.Steps = append(slices.Clone(t.Steps), "Put right what is found, enter it as a record and let the level move: what is left is the other fault.")
		for o := range t.Outcomes {
			if len(t.Outcomes[o].Means) < len(set) {
				t.Outcomes[o].Seen += " (the other fault may show beside it)"
			}
		}
	}
	return tests
}

// Line is the test in one sentence, with the permit or inhibition it needs and
// its minutes.
func (t *Test) Line() string {
	permit := ""
	switch t.Permit {
	case openPermit:
		permit = " under the site's permit"
	case bypassWork:
		permit = ", trips that use it inhibited as the site requires"
	}
	return fmt.Sprintf("%s%s%s, %d min.", strings.ToUpper(t.Name[:1]), t.Name[1:], permit, t.Minutes)
}

// worth is information per effort: an hour of work costs as much as it tells.
func (t *Test) worth() float64 { return (t.Splits + 0.05) / math.Sqrt(float64(t.Minutes)+10) }

// names reports whether an outcome of the test is that of the cause and not
// merely what every other cause shows.
func (p *procedure) names(c Cause) bool {
	for _, o := range p.outcomes {
		if slices.Contains(o.causes, c) {
			return true
		}
	}
	return false
}

// against works out what a test would tell about a set: the causes that
// remain after each outcome and the expected information, the entropy of the
// outcome, in nats.
func (p *procedure) against(set []Ranked) Test {
	t, total := p.Test, 0.0
	share := make([]float64, len(p.outcomes))
	means := make([][]Cause, len(p.outcomes))
	for _, r := range set {
		if r.Cause == Unknown {
			continue
		}
		o := p.leadsTo(r.Cause)
		share[o] += r.Probability
		means[o] = appendNew(means[o], r.Cause)
		total += r.Probability
	}
	for o, x := range p.outcomes {
		if len(means[o]) > 0 {
			t.Outcomes = append(t.Outcomes, Outcome{Seen: x.seen, Means: means[o]})
		} else if o == len(p.outcomes)-1 {
			t.Outcomes = append(t.Outcomes, Outcome{Seen: anythingElse, Means: []Cause{Unknown}})
		}
		if q := share[o] / total; q > 0 {
			t.Splits -= q * math.Log(q)
		}
	}
	return t
}

func (p *procedure) leadsTo(c Cause) int {
	for o, x := range p.outcomes {
		if slices.Contains(x.causes, c) {
			return o
		}
	}
	return len(p.outcomes) - 1
}
