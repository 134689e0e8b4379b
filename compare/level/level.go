// Package level is the level as bridlewatch states it: a length above the
// lower tap, its standard uncertainty, what it depends on and by which
// physics it was found.
//
// A level keeps its sensitivity to every uncertain input. Two levels on one
// chamber share inputs (the density of the liquid, the elevation of the taps),
// so the uncertainty of their difference is not the root of the sum of their
// squares: the shared part cancels as far as both depend on it the same way
// (JCGM 102:2011, 6.2; JCGM 100:2008, 5.2.2).
package level

import (
	"math"

	"bridlewatch/compare/quantity"
)

// Input is one uncertain quantity a level may depend on. Levels of one gauge
// that name the same Input share the same physical quantity.
type Input uint8

// The inputs. Contributions are kept as signed products of sensitivity and
// standard uncertainty in metres.
const (
	LiquidDensity      Input = iota // density model and composition, the same liquid in chamber and vessel
	VapourDensity                   // of the gas above the liquid
	VesselDensity                   // of the vessel's liquid, by its temperature
	ChamberTemperature              // of the chamber's liquid, by the temperature of the chamber itself
	TapElevation                    // of the lower tap against the scales
	FloatMass                       // mass and volume of the float
	Follower                        // coupling, hysteresis and resolution of the follower
	TransmitterDevice               // the transmitter's own accuracy
	LegDensity                      // reference leg or seal fill
	GasPermittivity                 // of the gas a radar pulse crosses
	DisplacerDevice                 // displacer mass and volume
	SecondDevice                    // the second transmitter's own accuracy
	VesselDevice                    // the vessel-side instrument's own accuracy
	InputElectronics                // analogue input and its conversion, float
	TransmitterInput                // analogue input and its conversion, transmitter
	Skew                            // samples not of the same instant times rate of change
	Inputs                          // number of inputs
)

var inputNames = [Inputs]string{
	"liquid density and composition", "gas density", "vessel temperature", "chamber temperature",
	"tap and scale elevation", "float mass and volume", "follower", "transmitter", "reference leg density",
	"gas permittivity", "displacer", "second transmitter", "vessel instrument", "float signal input",
	"transmitter signal input", "time skew",
}

func (i Input) String() string { return inputNames[i] }

// Contributions holds, per input, sensitivity times standard uncertainty in
// metres, with its sign.
type Contributions [Inputs]float64

// U returns the combined standard uncertainty.
func (c *Contributions) U() quantity.Length { return c.apart(&Contributions{}) }

// apart returns the combined standard uncertainty of c - o, input by input.
// Four sums are added side by side, in registers: a processor waits for one.
func (c *Contributions) apart(o *Contributions) quantity.Length {
	var sum0, sum1, sum2, sum3 float64
	for i := 0; i < len(c); i += 4 {
		d0, d1, d2, d3 := c[i]-o[i], c[i+1]-o[i+1], c[i+2]-o[i+2], c[i+3]-o[i+3]
		sum0 += d0 * d0
		sum1 += d1 * d1
		sum2 += d2 * d2
		sum3 += d3 * d3
	}
	return quantity.Length(math.Sqrt(sum0 + sum1 + (sum2 + sum3)))
}

// Bound says whether the value is a level at all.
type Bound uint8

// Bounds. Only Within carries a number.
const (
	None          Bound = iota // no level: see Reason
	Within                     // between the taps
	BelowLowerTap              // at or below the lower tap, no level can be given
	AboveUpperTap              // at or above the upper tap, no level can be given
)

func (b Bound) String() string {
	return [...]string{"none", "within", "at or below lower tap", "at or above upper tap"}[b]
}

// Basis names the physics a level was found by.
type Basis uint8

// Bases.
const (
	NoBasis      Basis = iota
	ByBuoyancy         // float immersion from live density
	ByTimeFlight       // radar with gas correction
	ByDP               // differential pressure with live densities
	ByDisplacer
	ByFollower // second float follower
	ByVessel   // vessel-side instrument carried to the chamber by the hydrostatic balance
	AsReported // the device's own level, nothing corrected
)

func (b Basis) String() string {
	return [...]string{"none", "float immersion, live density", "time of flight, gas corrected", "differential pressure, live density",
		"displacer, live density", "float follower", "vessel level by hydrostatic balance", "as reported by the device"}[b]
}

// Level is a level above the lower tap.
type Level struct {
	Value  quantity.Length
	AtTap  quantity.Length // where in the chamber the liquid stands while the instrument is just at the tap of Bound
	Parts  Contributions
	Bound  Bound
	Basis  Basis
	Reason quantity.Reason // why there is none, or why it is only Uncertain
	Marked bool            // the reading it was made of was only Uncertain
}

// OK reports whether the level is a number.
func (l *Level) OK() bool { return l.Bound == Within }

// U returns the standard uncertainty of the level.
func (l *Level) U() quantity.Length { return l.Parts.U() }

// Difference returns a - b and its standard uncertainty with the covariance
// of shared inputs. It is defined only where both are Within.
func Difference(a, b *Level) (gap, u quantity.Length, ok bool) {
	if !a.OK() || !b.OK() {
		return 0, 0, false
	}
	return a.Value - b.Value, a.Parts.apart(&b.Parts), true
}
