package cause

import (
	"fmt"
	"strings"
)

// phrase holds what a cause is called in a sentence and what proves it.
type phrase struct {
	name  string // noun phrase, without article at the start of a list
	means string // sentence; %s is the tag where there is one
	next  string
	prove string
}

const (
	drainTest = "Drain test under the site's permit, 10 min."
	noiseTest = "Compare the loop current with the display and look at wiring, earthing, supply and damping, 30 min."
	loopTest  = "Check the transmitter against a simulated signal and its zero, 30 min."
)

func phraseOf(c Cause) phrase {
	switch c {
	case FloatStuck:
		return phrase{"float stuck", "Float is probably stuck.", drainTest, "drain the chamber a little: a stuck float does not follow"}
	case FloatPartlyStuck:
		return phrase{"float sticking in part of its travel", "Float probably sticks in part of its travel.", drainTest, "drain and refill through the whole travel and watch where the float stays behind"}
	case FloatOneWay:
		return phrase{"float following one way only", "Float probably follows one way only.", drainTest, "drain and refill: the float follows one way and not the other"}
	case FloatStickSlip:
		return phrase{"float with friction", "Float probably moves by stick and slip: friction on the chamber wall.", drainTest, "drain slowly and watch the float move in jumps"}
	case FloatSunk:
		return phrase{"float sunk or collapsed", "Float has probably sunk or collapsed.", "Isolate and open the chamber under the site's permit, look at the float, 2 h.", "fill the chamber: a sunk float stays at the bottom"}
	case FloatHeavier:
		return phrase{"float heavier than it was", "Float is probably heavier than it was: deposit or a slow leak.", "Weigh the float at the next opening of the chamber, 2 h.", "weigh the float"}
	case DensityWrong:
		return phrase{"density other than assumed", "The liquid is probably not of the density assumed.", "Take a sample or check the density input, 30 min.", "measure the density of a sample"}
	case UpperDensityWrong:
		return phrase{"density of the upper liquid other than assumed", "The upper liquid is probably not of the density assumed.", "Take a sample of the upper liquid, 30 min.", "measure the density of a sample taken above the interface"}
	case Emulsion:
		return phrase{"emulsion between the two liquids", "There is probably no sharp interface: an emulsion stands between the two liquids.", "Take samples from several elevations, 30 min.", "samples from below to above the interface: an emulsion does not settle at once"}
	case FollowerDecoupled:
		return phrase{"follower lost the magnet", "Follower has probably lost the float's magnet.", "Pass a magnet along the follower and watch its signal, 15 min.", "move a magnet along the follower: the signal jumps to it"}
	case FollowerShifted:
		return phrase{"follower shifted on the chamber", "Follower is probably shifted on the chamber.", "Check the follower's clamps against its marks, 10 min.", "measure the follower's position against its marks"}
	case TransmitterZero:
		return phrase{"transmitter zero shifted", "Zero of transmitter %s has probably shifted.", loopTest, "compare the transmitter with a level known from a drain or a gauge glass"}
	case TransmitterSpan:
		return phrase{"transmitter span wrong", "Span of transmitter %s is probably wrong.", loopTest, "compare the transmitter at two levels far apart"}
	case TransmitterDrift:
		return phrase{"transmitter drifting", "Transmitter %s is probably drifting.", loopTest, "compare the transmitter with a known level now and in a month"}
	case TransmitterFrozen:
		return phrase{"transmitter frozen", "Output of transmitter %s is probably frozen.", "Look at the device status and the loop current while the level moves, 15 min.", "move the level a little: a frozen output does not follow"}
	case TransmitterLimit:
		return phrase{"transmitter saturated", "Transmitter %s is probably saturated.", loopTest, "read the loop current: at the end of its range it says nothing"}
	case TransmitterQuiet:
		return phrase{"transmitter noise lost", "Transmitter %s has lost the noise it always had: filter, lost echo or plugged line.", "Look at the device status and its damping, 15 min.", "compare damping and status with the last record"}
	case TransmitterNoisy:
		return phrase{"transmitter noisy", "Transmitter %s has probably grown noisy: wiring, earthing, supply, damping or failing electronics.", noiseTest, "the scatter is there in the loop, or at the device, with the surface at rest"}
	case FollowerNoisy:
		return phrase{"follower noisy", "Follower of float %s has probably grown noisy: wiring, earthing, supply or failing electronics; the float itself is not suspect.", noiseTest, "the follower's signal scatters with the float at rest"}
	case VesselNoisy:
		return phrase{"vessel instrument noisy", "Vessel instrument %s has probably grown noisy: wiring, earthing, supply, damping or failing electronics.", noiseTest, "the instrument scatters with the vessel's surface at rest"}
	case SurfaceUnquiet:
		return phrase{"surface unquiet by boiling, waves or agitation", "The surface is probably unquiet: boiling, waves, filling or agitation.", "Look at what the vessel does: heating, filling, agitator, 10 min.", "the scatter goes when heating, filling or agitator pause"}
	case RadarDisturbed:
		return phrase{"radar disturbed by foam or build-up", "Radar %s is probably disturbed by foam or build-up.", "Look at the echo curve of the radar, 15 min.", "look at the echo curve: a second or a broad echo"}
	case LegEmpty:
		return phrase{"reference leg empty", "Reference leg of %s is probably empty.", "Check and refill the reference leg under the site's permit, 45 min.", "open the leg's fill plug: nothing there"}
	case LegPartlyFilled:
		return phrase{"reference leg partly filled", "Reference leg of %s is probably partly filled.", "Check and refill the reference leg under the site's permit, 45 min.", "top the leg up: the reading moves by what was missing"}
	case LegPlugged:
		return phrase{"impulse line plugged", "An impulse line of %s is probably plugged.", "Blow down the impulse lines under the site's permit, 30 min.", "blow down one side at a time and watch the response"}
	case DisplacerDisturbed:
		return phrase{"displacer disturbed", "Displacer %s is probably disturbed: deposit or friction.", loopTest, "hang a known weight on the displacer"}
	case PointFailed:
		return phrase{"point switch failed", "Point switch %s has probably failed.", "Move the level past the switch or pass a magnet, 10 min.", "move the level past the switch and watch its contact"}
	case PointShifted:
		return phrase{"point switch shifted", "Point switch %s is probably shifted on the chamber.", "Measure the switch's elevation against its mark, 10 min.", "measure the switch's elevation"}
	case PointWorn:
		return phrase{"differential of the point switch grown", "Point switch %s probably trips late both ways: its magnet or spring tires.", "Move the level past the switch both ways and note where it changes, 10 min.", "note where the contact changes, rising and falling"}
	case LowerPlug:
		return phrase{"lower connection plugged", "Lower connection is probably plugged.", "Drain and watch the refill, 15 min.", "drain the chamber: it refills slowly or not at all"}
	case UpperPlug:
		return phrase{"upper connection plugged", "Upper connection is probably plugged.", "Vent the chamber and watch the level, 15 min.", "vent the chamber: the level jumps"}
	case ChamberIsolated:
		return phrase{"chamber isolated", "Chamber is probably isolated.", "Check both isolation valves, 5 min.", "look at both isolation valves"}
	case VesselInstrument:
		return phrase{"vessel instrument wrong", "Vessel instrument %s is probably wrong.", "Check the vessel instrument, 30 min.", "compare the vessel instrument with a known level"}
	case TimeSkew:
		return phrase{"clocks or filters apart", "Clocks or filters of the signals are probably apart.", "Compare time stamps and damping of the two signals, 15 min.", "let the level move fast and stop: the gap vanishes when it stops"}
	case NoSignal:
		return phrase{"no signal", "No signal of %s.", "Check the loop and the connection, 15 min.", "measure the loop current at the instrument"}
	case OutsideDataSheet:
		return phrase{"conditions outside the data sheet", "Conditions are outside the data sheet, so the levels may be wrong.", "Check the conditions against the data sheet, 10 min.", "read pressure, temperature and density on the spot"}
	case TwoFaults:
		return phrase{"two faults", "Two faults at once are probable: no single one explains what is seen.", drainTest, "put one right and see whether what is left is explained by the other"}
	}
	return phrase{"cause not in the list", "The cause is open.", drainTest, "a drain test, watching every instrument"}
}

// Phrase names a cause inside a sentence.
func Phrase(c Cause) string { return phraseOf(c).name }

// Meaning is the sentence that names a cause.
func Meaning(c Cause, tag string) string {
	m := phraseOf(c).means
	for i := 0; i+1 < len(m); i++ {
		if m[i] == '%' {
			return fmt.Sprintf(m, tag)
		}
	}
	return m
}

// Together is the sentence about faults that are there at once.
func Together(set []Ranked) string {
	var names []string
	for _, r := range set {
		names = append(names, r.Name())
	}
	if n := len(names); n > 2 {
		return "No single fault explains this. Two of these at once probably do: " + strings.Join(names[:n-1], ", ") + " or " + names[n-1] + "."
	}
	return "No single fault explains this. Two at once probably do: " + strings.Join(names, " and ") + "."
}

// Next says what to do, with minutes: the test that tells most about the set,
// or what the trade does about the cause where no test is known.
func Next(c Cause, by Suspect, set []Ranked) string {
	if tests := Settle(set); len(tests) > 0 {
		return tests[0].Line()
	}
	if c != Unknown {
		return phraseOf(c).next
	}
	if len(set) > 0 {
		return phraseOf(set[0].Cause).next
	}
	return drainTest
}
