package store

import "math"

// Resolved rounds a computed value in a unit to the step in which history
// keeps it: 0.01 mm for "m", 0.001 for "kg/m3". That is a hundredth of what
// the best level gauge can tell or less, and lets the value pack as a decimal:
// about one byte instead of six and a half. Values of other units are kept
// whole, and raw samples are never rounded.
func Resolved(unit string, v float64) float64 {
	switch unit {
	case "m":
		return math.Round(v*1e5) / 1e5
	case "kg/m3":
		return math.Round(v*1e3) / 1e3
	default:
		return v
	}
}
