package records

import (
	"slices"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// Elevation is a place at which a guided test should take readings.
type Elevation struct {
	At  quantity.Length `json:"at_m"` // above the lower tap
	Why string          `json:"why"`
}

const (
	beside  quantity.Length = 0.020 // distance kept from a trip point, so that the state is certain
	fromTap quantity.Length = 0.050 // distance kept from a tap
	apart   quantity.Length = 0.015 // two places nearer than this are one
)

// Suggest lists elevations worth stopping at: near both taps, half way, and on
// both sides of every trip point, in the order a drain passes them; a fill
// passes them the other way round.
func Suggest(s *datasheet.Sheet, filling bool) []Elevation {
	up := s.Chamber.CentreToCentre
	all := []Elevation{{up - fromTap, "near the upper tap"}, {up / 2, "half way"}, {fromTap, "near the lower tap"}}
	for _, p := range s.Points {
		rising, falling := p.Trips()
		all = append(all, Elevation{rising + beside, p.Tag + " must be wet"}, Elevation{falling - beside, p.Tag + " must be dry"})
	}
	all = slices.DeleteFunc(all, func(e Elevation) bool { return e.At < fromTap || e.At > up-fromTap })
	slices.SortStableFunc(all, func(a, b Elevation) int {
		switch {
		case a.At > b.At:
			return -1
		case a.At < b.At:
			return 1
		}
		return 0
	})
	var out []Elevation
	for _, e := range all {
		if n := len(out); n > 0 && out[n-1].At-e.At < apart {
			out[n-1].Why += "; " + e.Why
			continue
		}
		out = append(out, e)
	}
	if filling {
		slices.Reverse(out)
	}
	return out
}
