// Package radar is level by time of flight along a guided wave, corrected for
// the gas the pulse crosses.
//
// Symbols:
//
//	D     distance from the reference point down to the surface   m
//	D0    the distance the device reports                         m
//	ε     relative permittivity of the gas on the way             1
//	ε0    the permittivity the device was told, 1 for vacuum      1
//
// A pulse on a transverse electromagnetic line in a gas that is not magnetic
// travels at c/√ε, so a device that was told ε0 reports
//
//	D0 = D √(ε/ε0),  hence  D = D0 √(ε0/ε)                 (1)
//
// The level reads low by D0 − D. Gases are not dispersive at the frequencies
// of guided wave radar (from memory, no source at hand). The microwave
// properties of steam are those of its static permittivity there.
package radar

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// Correction is √(ε/ε0): what a true distance is multiplied with to give the
// reported one. It is greater than 1 in most gases.
type Correction float64

// NewCorrection returns the Correction for the permittivity of the gas and the
// one the device was told; zero for the latter means vacuum. A permittivity
// below 1 does not exist and is an error.
func NewCorrection(gas, told float64) (Correction, error) {
	if told == 0 {
		told = 1
	}
	if !(gas >= 1) || !(told >= 1) {
		return 0, fmt.Errorf("radar: relative permittivity of the gas %g and of the device setting %g: neither can be below 1", gas, told)
	}
	return Correction(math.Sqrt(gas / told)), nil
}

// ByReflector returns the Correction a reference reflector shows: a mark at a
// known distance below the reference point, above the highest level, that the
// device sees at an apparent distance.
func ByReflector(known, apparent quantity.Length) (Correction, error) {
	if !(known > 0) || !(apparent > 0) {
		return 0, fmt.Errorf("radar: reference reflector at %g m seen at %g m: both must be positive", float64(known), float64(apparent))
	}
	return Correction(apparent / known), nil
}

// True returns the true distance of a reported one.
func (c Correction) True(reported quantity.Length) quantity.Length {
	return reported / quantity.Length(c)
}

// Reported returns the distance the device reports for a true one.
func (c Correction) Reported(distance quantity.Length) quantity.Length {
	return distance * quantity.Length(c)
}

// Error returns the relative error of the reported distance, √(ε/ε0) − 1.
func (c Correction) Error() float64 { return float64(c) - 1 }

// PerPermittivity returns dD/dε at the true distance: −D/(2ε). The level
// moves the other way.
func PerPermittivity(distance quantity.Length, gas float64) float64 {
	return -float64(distance) / (2 * gas)
}

// Interface returns the apparent extra distance a layer of lighter liquid adds
// on the way to an interface: t √ε2.
func Interface(thickness quantity.Length, upper float64) quantity.Length {
	return thickness * quantity.Length(math.Sqrt(upper))
}

// Reflection returns the share of the power a sharp surface reflects, the
// plane-wave bound ((√εl − √εv)/(√εl + √εv))².
func Reflection(liquid, gas float64) float64 {
	l, v := math.Sqrt(liquid), math.Sqrt(gas)
	r := (l - v) / (l + v)
	return r * r
}
