package gauge

import (
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// Snapshot is what the instruments of one gauge said at one instant, in SI
// units, after conversion of the raw signals and before any physics. An
// instrument the gauge does not have stays Absent.
type Snapshot struct {
	Time time.Time

	Float       quantity.Reading // follower's indication, m above lower tap
	Transmitter quantity.Reading // see datasheet.Transmitter for what the value is
	Second      quantity.Reading
	Points      [datasheet.MaxPoints]quantity.Reading // 1 wet (or actuated high), 0 dry

	Pressure           quantity.Reading // Pa absolute
	Temperature        quantity.Reading // K
	ChamberTemperature quantity.Reading // K
	Density            quantity.Reading // kg/m3
	Vessel             quantity.Reading // m above the vessel instrument's zero

	Isolated bool // by a maintenance record: nothing on this chamber says anything about the vessel
}

// Of returns where the reading of a role belongs: "float", "transmitter",
// "second", "pressure", "temperature", "chamber temperature", "density" or
// "vessel"; every other role is the point switch of that index.
func (s *Snapshot) Of(role string, point int) *quantity.Reading {
	switch role {
	case "float":
		return &s.Float
	case "transmitter":
		return &s.Transmitter
	case "second":
		return &s.Second
	case "pressure":
		return &s.Pressure
	case "temperature":
		return &s.Temperature
	case "chamber temperature":
		return &s.ChamberTemperature
	case "density":
		return &s.Density
	case "vessel":
		return &s.Vessel
	}
	return &s.Points[point]
}

// Pair names two levels that are compared. Float, transmitter and second
// instrument all look at the chamber; the vessel level is carried to the
// chamber by the hydrostatic balance before it is compared.
type Pair uint8

// Pairs.
const (
	FloatTransmitter Pair = iota
	VesselTransmitter
	VesselFloat
	FloatSecond
	TransmitterSecond
	VesselSecond
	Pairs // number of pairs
)

func (p Pair) String() string {
	return [...]string{"float − transmitter", "vessel − transmitter", "vessel − float", "float − second transmitter", "transmitter − second transmitter",
		"vessel − second transmitter"}[p]
}

// Gap is the difference of the two levels of a pair and what it may be.
type Gap struct {
	Value  quantity.Length // first minus second
	U      quantity.Length // standard uncertainty, covariance of shared inputs included
	Budget quantity.Length // what is allowed: coverage factor times U, or the user's limit
	OK     bool            // false: cannot be compared, see Reason
	Reason quantity.Reason
}

// Ratio returns |gap| / budget, the normalised error E_n of ISO/IEC 17043.
func (g Gap) Ratio() float64 {
	if !g.OK || g.Budget <= 0 {
		return 0
	}
	r := float64(g.Value / g.Budget)
	if r < 0 {
		return -r
	}
	return r
}

// Switch is what a point switch says.
type Switch uint8

// Switch states.
const (
	Unknown Switch = iota
	Dry
	Wet
)

func (s Switch) String() string { return [...]string{"unknown", "dry", "wet"}[s] }

// Measurement is everything physics can say about one instant.
type Measurement struct {
	Time time.Time

	Float       level.Level // surface in the chamber, from the float with live density
	Transmitter level.Level // surface in the chamber
	Second      level.Level
	Vessel      level.Level // vessel-side level carried to the chamber
	InVessel    level.Level // level in the vessel, from the chamber by the hydrostatic balance

	// Magnet is the follower's own indication without density correction: this
	// is what works a magnet-operated point switch.
	Magnet   quantity.Length
	MagnetOK bool

	Points [datasheet.MaxPoints]Switch
	Gaps   [Pairs]Gap

	Liquid, Gas      quantity.Density // in the chamber
	LiquidU          quantity.Density // standard uncertainty of Liquid
	LiquidModelU     quantity.Density // of it by model and composition alone
	VesselLiquid     quantity.Density
	VesselGas        quantity.Density
	DensityRatio     float64 // density the float was built for / live density - 1: the excitation of density faults
	DensityOK        bool
	FloatReserve     float64 // liquid density / density at which the float sinks; <= 1: sunk. Interface service: volume / volume below the interface, 0 when it rises
	OutsideDataSheet []Limit // nil in the usual case
	Isolated         bool
	PressureUsed     quantity.Pressure
	TemperatureUsed  quantity.Temperature
	ChamberTempUsed  quantity.Temperature
	Assumed          bool // pressure or temperature came from the data sheet, not from an instrument
}

// InChamber is the level of the chamber that of the vessel is made of, and its
// place among float, transmitter and second transmitter: the first there is.
func (m *Measurement) InChamber() (place int, l *level.Level) {
	switch {
	case m.Float.Bound != level.None:
		return 0, &m.Float
	case m.Transmitter.Bound != level.None:
		return 1, &m.Transmitter
	}
	return 2, &m.Second
}

// Limit is one condition outside the data sheet.
type Limit struct {
	What     string // "pressure", "temperature", "specific gravity", "float pressure", "float reserve", "radar blind zone", "pressure against temperature"
	Sentence string
}
