package coverage

import (
	"fmt"
	"strings"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/structure"
)

// Structural lists what follows from the equation graph of a gauge: faults
// that no equation can contradict and faults that cannot be told apart.
func Structural(sys structure.System) []BlindSpot {
	var list []BlindSpot
	for e, ok := range sys.Detectable() {
		if ok {
			continue
		}
		if sys[e].Name == "chamber" {
			list = append(list, chamberFaults()...)
			continue
		}
		list = append(list, BlindSpot{ID: "unseen-" + id(sys[e].Name), What: "a fault of " + calls(sys[e].Name), Structural: true, PossibleNow: true,
			Why: "no other instrument can contradict it", Reveals: "another instrument that sees the same level, or a drain test"})
	}
	for _, group := range sys.Groups() {
		var names, ids []string
		for _, e := range group {
			names, ids = append(names, calls(sys[e].Name)), append(ids, id(sys[e].Name))
		}
		list = append(list, BlindSpot{ID: "apart-" + strings.Join(ids, "-"), What: "which of " + strings.Join(names, ", ") + " is wrong", Structural: true, PossibleNow: true,
			Why:     "a fault of any of them looks the same to the others; only its course over time can tell",
			Reveals: "an instrument of another principle, a level on the vessel, or one of the tests under settle"})
	}
	return list
}

func calls(name string) string {
	switch name {
	case "density":
		return "the density used"
	case "float":
		return "the float"
	case "follower":
		return "the float's follower"
	case "chamber", "second chamber":
		return "the " + name + " and its connections"
	}
	return name
}

func id(name string) string { return strings.ReplaceAll(strings.ToLower(name), " ", "-") }

// chamberFaults are what a chamber without any instrument on the vessel hides.
func chamberFaults() []BlindSpot {
	const why = "everything hangs on one chamber: all instruments agree and are all wrong"
	spot := func(id, what, reveals string) BlindSpot {
		return BlindSpot{ID: id, What: what, Why: why, Structural: true, PossibleNow: true, Reveals: reveals}
	}
	return []BlindSpot{
		spot("lower-connection", "lower connection plugged or its valve shut", "a level on the vessel, or a drain test that refills at once"),
		spot("upper-connection", "upper connection plugged or its valve shut", "a level on the vessel, or venting without a change of level"),
		spot("isolation", "chamber isolated", "a level on the vessel, or a look at the valves"),
	}
}

// Shared lists what all instruments of a chamber have in common whatever the
// set is.
func Shared(s *datasheet.Sheet) []BlindSpot {
	spot := func(id, what, why, reveals string, now bool) BlindSpot {
		return BlindSpot{ID: id, What: what, Why: why, Structural: true, PossibleNow: now, Reveals: reveals}
	}
	list := []BlindSpot{
		spot("datum", "elevation or tilt of the chamber", "all elevations are counted from the same taps", "a survey of both taps", true),
		spot("foam", "foam, boil-up or gas in the chamber's liquid", "it lifts what every instrument sees, each in its way", "a quiet level, or a densitometer", true),
		spot("power", "common power supply, input card or clock", "a shared fault freezes or shifts several signals at once", "the service page, which counts the signals of each source that are not usable", true),
		spot("baseline", "a fault present when the gauge was commissioned", "what is normal was learned with it", "an as-left record made after a drain test", true),
	}
	if s.ChamberTemperature == nil {
		list = append(list, spot("chamber-temperature", "chamber colder or warmer than assumed", "its liquid is denser or lighter than the vessel's, so its level is another one",
			"a temperature measured on the chamber", s.Vessel == nil))
	}
	if s.Densitometer == nil {
		list = append(list, spot("composition", "a product of another density", "float and every instrument that uses the density take it from the same model",
			"a sample, a densitometer, or a radar beside a dp", true))
	}
	if s.Fluid.Upper != nil {
		list = append(list, spot("interface", "which interface the chamber shows", "with one tap in each liquid the chamber holds only what came through the taps",
			"a third tap in the upper liquid", true))
		list = append(list, interfaceFaults(s)...)
	}
	if len(s.Points) == 1 {
		list = append(list, spot("one-elevation", fmt.Sprintf("a scale error of the float away from %s", s.Points[0].Tag), "the float is checked by a switch at one elevation only",
			"a second switch, or a drain test over the whole travel", true))
	}
	return list
}

// interfaceFaults are what a chamber on an interface cannot tell from a fault of
// one instrument.
func interfaceFaults(s *datasheet.Sheet) []BlindSpot {
	echo, weight := false, false
	for _, t := range []*datasheet.Transmitter{s.Transmitter, s.Second} {
		if t != nil {
			echo = echo || t.Principle == datasheet.Radar
			weight = weight || t.Principle != datasheet.Radar && t.Principle != datasheet.FloatFollower
		}
	}
	emulsion := BlindSpot{ID: "emulsion", What: "an emulsion between the two liquids", Structural: true, PossibleNow: true,
		Why: "float and weight take it for an interface in its middle, and nothing here sees its top", Reveals: "samples from several elevations"}
	if echo {
		emulsion.Why = "a radar reads its top and the float swims inside it: that looks like a radar that is disturbed"
	}
	list := []BlindSpot{emulsion}
	if !echo || !weight {
		list = append(list, BlindSpot{ID: "upper-density", What: "another density of the upper liquid", Structural: true, PossibleNow: true,
			Why:     "it shifts the float as a heavier float or a shifted follower does",
			Reveals: "a radar and a dp or displacer together beside the float, or a sample from above the interface"})
	}
	return list
}
