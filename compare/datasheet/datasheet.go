// Package datasheet describes a gauge the way its data sheet does: one
// external chamber, the float inside it and every instrument that hangs on
// it. It holds values only; package gauge turns a Sheet into arithmetic.
//
// All elevations are lengths above the lower tap (the centre line of the
// lower process connection), positive upwards.
package datasheet

import "bridlewatch/compare/quantity"

// MaxPoints is the largest number of point switches on one gauge.
const MaxPoints = 8

// Sheet is the data sheet of one gauge.
type Sheet struct {
	Tag     string // of the gauge, for example "LG-101"
	Service string // what the vessel is, in words
	Area    string // where it stands, for walk lists

	MaxPressure       quantity.Pressure
	MaxTemperature    quantity.Temperature
	OperatingPressure quantity.Pressure    // used where no pressure is measured
	OperatingTemp     quantity.Temperature // of the vessel's liquid, used where it is not measured

	Gravity float64 // m/s2, of the place; 0: standard gravity. It turns pressures and forces into levels

	DesignSG float64 // specific gravity (water at 15 °C = 999.1 kg/m3 unless DesignDensity is given) the float was made for
	SGMin    float64 // range in service
	SGMax    float64

	Chamber     Chamber
	Fluid       Fluid
	Float       Float
	Transmitter *Transmitter // nil: none
	Second      *Transmitter // a second transmitter of another principle; nil: none
	Points      []Point      // at most MaxPoints

	Pressure           *Instrument // of the vessel's vapour space
	Temperature        *Instrument // of the vessel's liquid
	ChamberTemperature *Instrument // of the chamber's liquid
	Densitometer       *Instrument // of the vessel's liquid
	Vessel             *Vessel     // a level measured on the vessel, not on the chamber

	Limits Limits
	Budget Budget
}

// WaterReferenceDensity turns specific gravity into density: water at 60 °F,
// 999.016 kg/m3 (API MPMS 11.1-2004).
const WaterReferenceDensity quantity.Density = 999.016

// DesignDensity is the density the float was made for.
func (s *Sheet) DesignDensity() quantity.Density {
	return quantity.Density(s.DesignSG) * WaterReferenceDensity
}

// ServiceRange is the range of density in service.
func (s *Sheet) ServiceRange() (low, high quantity.Density) {
	return quantity.Density(s.SGMin) * WaterReferenceDensity, quantity.Density(s.SGMax) * WaterReferenceDensity
}

// ConnectionStyle says where the two process connections of the chamber are.
type ConnectionStyle string

// Connection styles of the trade.
const (
	SideSide   ConnectionStyle = "side-side"
	SideBottom ConnectionStyle = "side-bottom"
	TopBottom  ConnectionStyle = "top-bottom"
	TopSide    ConnectionStyle = "top-side"
)

// Chamber is the external pipe with its two connections.
type Chamber struct {
	Material        string // for example "316", "316L", "A106-B"
	PipeSize        string // nominal pipe size in inches as written: "2", "2-1/2", "3"
	Schedule        string // "40", "80", "10S", ...
	InnerDiameter   quantity.Length
	OuterDiameter   quantity.Length
	EndStyle        string // "flanged", "welded cap", "plug", ...
	ConnectionStyle ConnectionStyle
	CentreToCentre  quantity.Length                 // between lower and upper tap
	LowerTapEL      quantity.Length                 // plant elevation of the lower tap
	BelowLowerTap   quantity.Length                 // free chamber length below the lower tap (room for the float)
	AboveUpperTap   quantity.Length                 // free chamber length above the upper tap
	Insulation      string                          // "bare", "insulated", "traced"
	Cooling         *quantity.TemperatureDifference // chamber colder than vessel by this, where it is not measured; nil: equal
	CoolingU        quantity.TemperatureDifference  // standard uncertainty of the mean chamber temperature
}

// FluidModel names how the density of the liquid is found.
type FluidModel string

// Fluid models.
const (
	Water       FluidModel = "water"       // IAPWS-IF97 from pressure and temperature
	Petroleum   FluidModel = "petroleum"   // API MPMS 11.1-2004: group and base density
	LPG         FluidModel = "lpg"         // API MPMS 11.2.4: relative density at 60 °F
	Pure        FluidModel = "pure"        // COSTALD, one component or a mixture
	Table       FluidModel = "table"       // densities over temperature
	Coefficient FluidModel = "coefficient" // reference density and thermal expansion
	Polynomial  FluidModel = "polynomial"  // powers of the temperature above a base
	Blend       FluidModel = "blend"       // ideal mixture of other fluids by mass
	Constant    FluidModel = "constant"    // one value, entered by somebody
	Measured    FluidModel = "measured"    // a densitometer
)

// Fluid is what is in the vessel.
type Fluid struct {
	Name  string
	Model FluidModel

	Group           string               // petroleum: "A", "B", "C", "D"
	BaseDensity     quantity.Density     // petroleum: at BaseTemperature; coefficient, constant: at BaseTemperature
	BaseTemperature quantity.Temperature // petroleum: 60 °F, 15 °C or 20 °C
	Expansion       float64              // coefficient: 1/K; petroleum group C: alpha60 per °F
	Compressibility float64              // coefficient: 1/Pa, 0 when neglected
	RelativeDensity float64              // lpg: at 60 °F
	Table           []TablePoint
	Components      []Component          // pure: names and mole fractions
	Powers          []float64            // polynomial: factors of (T - BaseTemperature)^0, ^1, ... in kg/m3, kg/(m3 K), ...
	Coldest         quantity.Temperature // polynomial: where it holds
	Hottest         quantity.Temperature
	Parts           []Part // blend

	RelativeU float64 // standard uncertainty of the density model as a fraction; 0: the model's own

	Vapour Vapour
	Upper  *Fluid // interface service: the lighter liquid above
}

// TablePoint is one density of a table.
type TablePoint struct {
	Temperature quantity.Temperature
	Pressure    quantity.Pressure // 0: at any pressure
	Density     quantity.Density
}

// Component is one part of a mixture.
type Component struct {
	Name     string
	Fraction float64 // mole fraction
}

// VapourModel names how the density of the gas above the liquid is found.
type VapourModel string

// Vapour models.
const (
	NoVapour VapourModel = "none"  // neglected (open or low pressure)
	Steam    VapourModel = "steam" // IAPWS-IF97
	Gas      VapourModel = "gas"   // real gas with molar mass and Z
)

// Vapour is the gas above the liquid.
type Vapour struct {
	Model           VapourModel
	MolarMass       float64 // kg/mol
	Compressibility float64 // Z; 0 means 1
	Permittivity    float64 // relative, at 20 °C and 101.325 kPa; 0 means 1 (vacuum)
}

// Part is one fluid of a blend. Its own vapour and upper fluid are not looked
// at.
type Part struct {
	Fluid        Fluid
	MassFraction float64
}

// EndShape is the shape of a float's ends.
type EndShape string

// End shapes.
const (
	Flat          EndShape = "flat"
	Hemispherical EndShape = "hemispherical"
	Ellipsoidal   EndShape = "ellipsoidal-2:1"
	Kloepper      EndShape = "torispherical-kloepper"
	Korbbogen     EndShape = "torispherical-korbbogen"
	FlangedDished EndShape = "torispherical-asme" // 6 % knuckle
)

// FollowerType is the device that turns the magnet's position into a signal.
type FollowerType string

// Follower types.
const (
	ReedChain        FollowerType = "reed-chain"
	Magnetostrictive FollowerType = "magnetostrictive"
	NoFollower       FollowerType = "none" // visual indicator only
)

// Float is the float with its magnet and the follower that reads it.
type Float struct {
	Tag         string // of the follower's signal, for example "LI-101"
	Mass        quantity.Mass
	Diameter    quantity.Length
	Length      quantity.Length // whole length, ends included
	Wall        quantity.Length // shell thickness, 0: unknown
	Material    string          // of the shell: its thermal growth
	EndShape    EndShape
	MagnetAbove quantity.Length   // magnet's height above the bottom of the float
	MaxPressure quantity.Pressure // external pressure rating by the maker, 0: unknown
	Follower    FollowerType
	Pitch       quantity.Length // reed chain: distance of the contacts
	// The follower is built so that its signal reads the surface level when the
	// float swims in liquid of BuiltFor density: indicated = magnet position -
	// MagnetAbove + immersion(BuiltFor). The immersion is that with nothing above
	// the liquid; for interface service with the lighter liquid above, at the
	// operating state of the sheet.
	BuiltFor quantity.Density
	Offset   quantity.Length // added by the maker or at calibration
}

// Principle is how a transmitter measures.
type Principle string

// Principles.
const (
	Radar         Principle = "radar" // guided wave, top mounted on the chamber
	DPWet         Principle = "dp-wet-leg"
	DPDry         Principle = "dp-dry-leg"
	DPSeals       Principle = "dp-remote-seals"
	Displacer     Principle = "displacer"
	FloatFollower Principle = "float-follower"
)

// Transmitter is a continuous level measurement.
type Transmitter struct {
	Tag       string
	Principle Principle
	// Chamber: "same" hangs in the gauge's own chamber; "secondary" in a second
	// chamber on the same connections; "vessel" directly on the vessel.
	Chamber string

	// What the signal is after conversion, in SI: radar and float follower give
	// a level in metres above the lower tap as the device computes it; dp gives
	// pascals; displacer gives the level as the device computes it when
	// CalibratedFor is set, otherwise the apparent weight in newtons.
	U quantity.Length // standard uncertainty of the device alone, as level

	// Radar.
	ReferencePoint     quantity.Length // process seal above the lower tap: distances are measured down from here
	ConfiguredEps      float64         // gas permittivity the device was told, 0 or 1: vacuum
	BlindTop           quantity.Length // dead zone below the reference point
	BlindBottom        quantity.Length // dead zone above the probe end
	ReferenceReflector quantity.Length // below the reference point, 0: none

	// dp.
	Elevation      quantity.Length      // of the transmitter above the lower tap, negative below
	LegDensity     quantity.Density     // wet leg or seal fill at LegTemperature
	LegTemperature quantity.Temperature // at which LegDensity holds
	LegExpansion   float64              // 1/K
	Swapped        bool                 // high side on the reference leg: dp falls with level
	UPressure      quantity.PressureDifference
	// Compensated says that the device already reports a level in metres, computed with
	// CalibratedFor and a vapour density of zero.
	Compensated bool

	// Displacer, or a compensated dp.
	CalibratedFor   quantity.Density
	DisplacerLength quantity.Length
	DisplacerArea   float64 // m2
	DisplacerMass   quantity.Mass
	DisplacerBottom quantity.Length // above the lower tap
}

// Weighs reports whether gravity stands between the signal and the level: a dp
// cell, or a displacer that reports its weight.
func (t *Transmitter) Weighs() bool {
	switch t.Principle {
	case DPWet, DPDry, DPSeals:
		return true
	case Displacer:
		return t.CalibratedFor == 0
	}
	return false
}

// Point is a point switch on the chamber.
type Point struct {
	Tag          string
	Elevation    quantity.Length // half way between the two trip points
	Differential quantity.Length // between rising and falling trip point
	Operated     string          // "float" (by the float's magnet) or "liquid" (an element of its own)
	U            quantity.Length // standard uncertainty of the trip elevation
}

// ByFloat reports whether the float's magnet works the switch, so that it
// says nothing about liquid the float does not follow.
func (p Point) ByFloat() bool { return p.Operated != "liquid" }

// Trips returns the levels at which the switch operates on the way up and on
// the way down.
func (p Point) Trips() (rising, falling quantity.Length) {
	return p.Elevation + p.Differential/2, p.Elevation - p.Differential/2
}

// Instrument is a simple measurement beside the level instruments.
type Instrument struct {
	Tag string
	U   float64 // standard uncertainty in SI units of the quantity
}

// Vessel is a level measured on the vessel itself.
type Vessel struct {
	Tag    string
	Offset quantity.Length // its zero above the lower tap
	U      quantity.Length
}

// Limits are thresholds the user sets; zero means the default.
type Limits struct {
	Gap         quantity.Length    // allowed gap where the user overrides the computed budget
	Drift       quantity.Length    // alert when the estimated drift exceeds this; default 25 mm
	MaxAge      float64            // seconds after which a sample is stale; default three scan intervals
	StillMoves  int                // moves a witness makes before a still float counts; default 3
	MoveSize    quantity.Length    // size of one move; default 20 mm
	ProvenDays  int                // days after which "proven" is old; default 180
	VerifyDays  int                // days between verifications as the user has decided; 0: not stated, and never computed
	CommonRange [2]quantity.Length // range both instruments can measure; zero: taps
}

// Budget holds the standard uncertainties the user states; zero means the
// default of common practice.
type Budget struct {
	FloatMass     quantity.Mass
	Follower      quantity.Length // coupling, hysteresis, follower accuracy
	TapElevation  quantity.Length // scale and tap elevation
	Density       float64         // relative, unexplained change of composition
	ChamberTemp   quantity.TemperatureDifference
	Coverage      float64 // coverage factor, default 2
	LearnBaseline bool    // subtract the median gap of the commissioning period
}
