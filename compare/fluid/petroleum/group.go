package petroleum

import (
	"fmt"

	"bridlewatch/compare/quantity"
)

// Group is a commodity group of API MPMS 11.1-2004.
type Group uint8

// The groups.
const (
	Crude       Group = iota + 1 // A
	Refined                      // B: fuel oils, jet fuels, gasolines
	Special                      // C: α60 is given
	Lubricating                  // D
)

var groupNames = [...]string{"", "crude oil (A)", "refined products (B)", "special application (C)", "lubricating oil (D)"}

func (g Group) String() string {
	if int(g) < len(groupNames) {
		return groupNames[g]
	}
	return fmt.Sprintf("group(%d)", uint8(g))
}

// ParseGroup reads the letter of a group.
func ParseGroup(letter string) (Group, error) {
	switch letter {
	case "A", "a":
		return Crude, nil
	case "B", "b":
		return Refined, nil
	case "C", "c":
		return Special, nil
	case "D", "d":
		return Lubricating, nil
	}
	return 0, fmt.Errorf(`unknown petroleum group %q: write "A" crude, "B" refined, "C" special application or "D" lubricating oil`, letter)
}

// commodity is a group, or one of the four parts of group B, with its
// coefficients: α60 = (K0/ρ* + K1)/ρ* + K2.
type commodity struct {
	lowest     float64 // ρ60, kg/m3
	k0, k1, k2 float64
	dAlpha     float64 // D_alpha of the solution from observed density
}

// The coefficients of 11.1.5, in kg/m3 and °F, each list by falling density.
var (
	crude   = []commodity{{610.6, 341.0957, 0, 0, 2.0}}
	refined = []commodity{
		{838.3127, 103.8720, 0.2701, 0, 1.3},       // fuel oils
		{787.5195, 330.3010, 0, 0, 2.0},            // jet fuels
		{770.3520, 1489.0670, 0, -0.00186840, 8.5}, // transition
		{610.6, 192.4571, 0.2438, 0, 1.5},          // gasolines
	}
	special     = []commodity{{610.6, 0, 0, 0, 0}}
	lubricating = []commodity{{800.9, 0, 0.34878, 0, 1.0}}
)

const highestBase = 1163.5 // kg/m3 at 60 °F, all groups

func (g Group) commodities() []commodity {
	switch g {
	case Crude:
		return crude
	case Refined:
		return refined
	case Special:
		return special
	}
	return lubricating
}

// commodity returns the part of the group a base density belongs to.
func (g Group) commodity(rho60 float64) *commodity {
	parts := g.commodities()
	for i := range parts {
		if rho60 >= parts[i].lowest {
			return &parts[i]
		}
	}
	return &parts[len(parts)-1]
}

// lowestBase is the lowest density at 60 °F of the group.
func (g Group) lowestBase() float64 {
	parts := g.commodities()
	return parts[len(parts)-1].lowest
}

// observedRange is the density an observed one must lie in before the base
// density is looked for, 11.1.6.2.
func (g Group) observedRange() (low, high float64) {
	switch g {
	case Crude:
		return 470.5, 1201.8
	case Lubricating:
		return 714.3, 1208.3
	}
	return 470.4, 1209.5
}

// Limits of α60 for group C, 1/°F.
const (
	lowestAlpha  = 230e-6
	highestAlpha = 930e-6
)

const model = "API MPMS 11.1-2004"

func (g Group) refuseBase(rho60 float64) error {
	return &quantity.RangeError{Model: model, Quantity: "density at 60 °F of " + g.String(), Value: rho60,
		Low: g.lowestBase(), High: highestBase, Unit: "kg/m3", Remedy: "check the group, or give the density by a table"}
}
