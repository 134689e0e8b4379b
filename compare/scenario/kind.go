package scenario

import "bridlewatch/compare/datasheet"

// Kind names a fault that can be injected. The names are used on the command
// line.
type Kind string

// Kinds of fault.
const (
	FloatStuck           Kind = "float-stuck"
	FloatPartlyStuck     Kind = "float-partly-stuck"
	FloatOneWay          Kind = "float-one-way"
	FloatStickSlip       Kind = "float-stick-slip"
	FloatSunk            Kind = "float-sunk"
	FloatHeavier         Kind = "float-heavier"
	DensityWrong         Kind = "density-wrong"
	FollowerDecoupled    Kind = "follower-decoupled"
	FollowerShifted      Kind = "follower-shifted"
	TransmitterZero      Kind = "transmitter-zero"
	TransmitterSpan      Kind = "transmitter-span"
	TransmitterDrift     Kind = "transmitter-drift"
	TransmitterFrozen    Kind = "transmitter-frozen"
	TransmitterSaturated Kind = "transmitter-saturated"
	TransmitterNoiseLost Kind = "transmitter-noise-lost"
	TransmitterNoisy     Kind = "transmitter-noisy"
	FollowerNoisy        Kind = "follower-noisy"
	VesselNoisy          Kind = "vessel-instrument-noisy"
	RadarFoam            Kind = "radar-foam"
	RadarBuildUp         Kind = "radar-build-up"
	LegEmpty             Kind = "leg-empty"
	LegPartlyFilled      Kind = "leg-partly-filled"
	LegPlugged           Kind = "leg-plugged"
	DisplacerStuck       Kind = "displacer-stuck"
	PointFailed          Kind = "point-failed"
	PointShifted         Kind = "point-shifted"
	PointWidened         Kind = "point-widened"
	LowerPlugged         Kind = "lower-plugged"
	UpperPlugged         Kind = "upper-plugged"
	ChamberIsolated      Kind = "chamber-isolated"
	TimeSkew             Kind = "time-skew"
	SignalLost           Kind = "signal-lost"
)

// Kinds that are put into readings only, see Graft.
const (
	FloatDrags Kind = "float-drags"
	SignalWild Kind = "signal-wild"
)

// measure is what the size of a fault is measured in.
type measure uint8

const (
	unsized  measure = iota
	length           // metres
	ratio            // a fraction, written in per cent
	speed            // metres per second, written per month
	duration         // seconds
)

// needs says which part of a gauge a fault happens to.
type needs uint8

const (
	needFloat needs = iota
	needTransmitter
	needRadar
	needWetLeg
	needLeg
	needDisplacer
	needPoint
	needChamber
	needSignal
	needLevel
	needVesselLevel
)

// Description explains one kind of fault.
type Description struct {
	Kind     Kind
	Text     string // one line
	Size     string // what the size means and its default; empty: it has none
	Instance string // an example of a size

	measure measure
	size    float64 // default, SI
	needs   needs
}

const secondsPerMonth = 365.25 / 12 * secondsPerDay

var catalogue = [...]Description{
	{Kind: FloatStuck, Text: "the float hangs where it is; magnet-operated points stay as they are", needs: needFloat},
	{Kind: FloatPartlyStuck, Text: "the float cannot rise above an elevation (dirt, dent, weld)", Size: "elevation above the lower tap, default 55 % of centre-to-centre", Instance: "700mm", measure: length, needs: needFloat},
	{Kind: FloatOneWay, Text: "the float rises freely but sinks only slowly", Size: "fall per minute, default 0.5 mm", Instance: "1mm", measure: length, size: 0.5e-3, needs: needFloat},
	{Kind: FloatStickSlip, Text: "the float moves only when the level has left it by a distance, then jumps", Size: "distance, default 15 mm", Instance: "30mm", measure: length, size: 15e-3, needs: needFloat},
	{Kind: FloatSunk, Text: "the float fills and sinks to the bottom of the chamber within a minute", needs: needFloat},
	{Kind: FloatHeavier, Text: "deposit or a slow leak lets the float swim deeper and deeper", Size: "rate per month, default 12 mm", Instance: "30mm", measure: speed, size: 12e-3 / secondsPerMonth, needs: needFloat},
	{Kind: DensityWrong, Text: "another product, or a wrong density input: the liquid is not what the data sheet says", Size: "change of density, default -6 %", Instance: "-3%", measure: ratio, size: -0.06, needs: needFloat},
	{Kind: FollowerDecoupled, Text: "the follower stops while the float and its magnet go on", needs: needFloat},
	{Kind: FollowerShifted, Text: "the follower has slipped along the chamber", Size: "shift, default 15 mm", Instance: "-20mm", measure: length, size: 15e-3, needs: needFloat},
	{Kind: TransmitterZero, Text: "the transmitter reads a constant amount too high", Size: "shift, default 20 mm", Instance: "-15mm", measure: length, size: 20e-3, needs: needTransmitter},
	{Kind: TransmitterSpan, Text: "the transmitter's error grows in proportion to the level", Size: "error of span, default 4 %", Instance: "2%", measure: ratio, size: 0.04, needs: needTransmitter},
	{Kind: TransmitterDrift, Text: "the transmitter's zero drifts", Size: "rate per month, default 30 mm", Instance: "12mm", measure: speed, size: 30e-3 / secondsPerMonth, needs: needTransmitter},
	{Kind: TransmitterFrozen, Text: "the transmitter repeats its last value", needs: needTransmitter},
	{Kind: TransmitterSaturated, Text: "the transmitter's signal stands at the upper end of its range", needs: needTransmitter},
	{Kind: TransmitterNoiseLost, Text: "the transmitter's signal loses its natural noise (damping, blocked cell)", Size: "what is left of the noise, default 30 %", Instance: "20%", measure: ratio, size: 0.3, needs: needTransmitter},
	{Kind: TransmitterNoisy, Text: "the transmitter's readings scatter (wiring, earthing, failing electronics)", Size: "standard deviation of one reading, default 25 mm", Instance: "60mm", measure: length, size: 25e-3, needs: needTransmitter},
	{Kind: FollowerNoisy, Text: "the follower's readings scatter while float and magnet are sound", Size: "standard deviation of one reading, default 25 mm", Instance: "60mm", measure: length, size: 25e-3, needs: needFloat},
	{Kind: VesselNoisy, Text: "the readings of the level on the vessel scatter", Size: "standard deviation of one reading, default 25 mm", Instance: "60mm", measure: length, size: 25e-3, needs: needVesselLevel},
	{Kind: RadarFoam, Text: "foam lifts the radar echo in bursts", Size: "largest lift, default 60 mm", Instance: "40mm", measure: length, size: 60e-3, needs: needRadar},
	{Kind: RadarBuildUp, Text: "a deposit on the probe gives a false echo above the liquid", Size: "elevation of the deposit, default 60 % of centre-to-centre", Instance: "800mm", measure: length, needs: needRadar},
	{Kind: LegEmpty, Text: "the wet leg of the dp transmitter has emptied", needs: needWetLeg},
	{Kind: LegPartlyFilled, Text: "part of a wet leg is lost, or a dry leg has collected liquid", Size: "share of the leg, default 10 %", Instance: "5%", measure: ratio, size: 0.10, needs: needLeg},
	{Kind: LegPlugged, Text: "the reference leg of the dp transmitter is plugged: the reading follows the vessel pressure", needs: needLeg},
	{Kind: DisplacerStuck, Text: "the displacer rubs and hangs", Size: "dead band, default 400 mm", Instance: "50mm", measure: length, size: 0.4, needs: needDisplacer},
	{Kind: PointFailed, Text: "a point switch stays in the state it is in", needs: needPoint},
	{Kind: PointShifted, Text: "a point switch trips at another elevation", Size: "shift, default 20 mm", Instance: "-30mm", measure: length, size: 20e-3, needs: needPoint},
	{Kind: PointWidened, Text: "a point switch trips late both ways: its differential grows", Size: "by how much, default 10 mm", Instance: "15mm", measure: length, size: 10e-3, needs: needPoint},
	{Kind: LowerPlugged, Text: "the lower connection is silting up: the chamber lags behind the vessel", Size: "time constant, default 15m", Instance: "3m", measure: duration, size: 900, needs: needChamber},
	{Kind: UpperPlugged, Text: "the upper connection is plugged: trapped gas holds the chamber's level", needs: needChamber},
	{Kind: ChamberIsolated, Text: "both valves of the chamber are closed", needs: needChamber},
	{Kind: TimeSkew, Text: "the transmitter's samples are late", Size: "delay, default 60s", Instance: "20s", measure: duration, size: 60, needs: needTransmitter},
	{Kind: SignalLost, Text: "the signal of an instrument stops", needs: needSignal},
}

// grafts are the kinds that only a Graft makes.
var grafts = [...]Description{
	{Kind: FloatDrags, Text: "the float follows only a part of every move", Size: "part it follows, default 30 %", Instance: "60%", measure: ratio, size: 0.3, needs: needFloat},
	{Kind: SignalWild, Text: "some readings of a level instrument are wild", Size: "share of the readings, default 2 %", Instance: "5%", measure: ratio, size: 0.02, needs: needLevel},
}

// Kinds lists every kind of fault a simulated gauge can have, in the order of
// the catalogue.
func Kinds() []Description { return append([]Description(nil), catalogue[:]...) }

// Describe returns the description of a kind and whether there is one.
func Describe(k Kind) (Description, bool) {
	for _, list := range [][]Description{catalogue[:], grafts[:]} {
		for _, d := range list {
			if d.Kind == k {
				return d, true
			}
		}
	}
	return Description{}, false
}

// missing says why a part cannot have the fault, or returns "".
func (n needs) missing(sheet *datasheet.Sheet, p part) string {
	switch n {
	case needFloat:
		if sheet.Float.Follower == datasheet.NoFollower {
			return "its float has no follower"
		}
	case needPoint:
		if p.point < 0 {
			return "it has no such point switch"
		}
	case needChamber:
		if sheet.Vessel == nil && sheet.Chamber.CentreToCentre <= 0 {
			return "it has no chamber"
		}
	case needVesselLevel:
		if sheet.Vessel == nil {
			return "it has no level on the vessel"
		}
	case needSignal:
		if p.kind == partNone {
			return "it has no such instrument"
		}
	case needLevel:
		if p.kind != partFloat && p.transmitter(sheet) == nil {
			return "it has no such level instrument"
		}
	default:
		return n.transmitterMissing(p.transmitter(sheet))
	}
	return ""
}

func (n needs) transmitterMissing(t *datasheet.Transmitter) string {
	if t == nil {
		return "it has no such transmitter"
	}
	switch {
	case n == needRadar && t.Principle != datasheet.Radar:
		return "its transmitter is no radar"
	case n == needWetLeg && t.Principle != datasheet.DPWet:
		return "its transmitter has no wet leg"
	case n == needLeg && t.Principle != datasheet.DPWet && t.Principle != datasheet.DPDry:
		return "its transmitter has no leg"
	case n == needDisplacer && t.Principle != datasheet.Displacer:
		return "its transmitter is no displacer"
	}
	return ""
}
