package trial

import (
	"strings"

	"bridlewatch/compare/scenario"
)

// hides reports whether a blind spot of the gauge hides a fault of a kind at
// the instrument tag, empty for the chamber.
func hides(id string, kind scenario.Kind, tag string, float bool) bool {
	sort, of, _ := strings.Cut(strings.ToLower(id), "-")
	switch {
	case kind == scenario.LowerPlugged:
		return sort == "lower"
	case kind == scenario.ChamberIsolated:
		return sort == "isolation"
	case kind == scenario.DensityWrong:
		return sort == "small" || sort == "unseen" && of == "density"
	case sort == "unseen":
		return of == strings.ToLower(tag) || float && (of == "float" || of == "follower")
	}
	return sort == spotOf(kind) && strings.Contains(of, strings.ToLower(tag))
}

// spotOf is how the IDs of the blind spots begin that hide a kind of fault.
func spotOf(kind scenario.Kind) string {
	switch kind {
	case scenario.TimeSkew:
		return "delay"
	case scenario.TransmitterNoisy, scenario.FollowerNoisy, scenario.VesselNoisy, scenario.SignalWild:
		return "noise"
	case scenario.PointFailed, scenario.PointShifted, scenario.PointWidened:
		return "switch"
	case scenario.FloatHeavier, scenario.FollowerShifted, scenario.TransmitterZero, scenario.TransmitterSpan, scenario.TransmitterDrift, scenario.LegPartlyFilled:
		return "small"
	}
	return "still"
}

// chamberFault reports whether a fault happens to the chamber and not to one
// instrument.
func chamberFault(kind scenario.Kind) bool {
	return kind == scenario.LowerPlugged || kind == scenario.ChamberIsolated
}
