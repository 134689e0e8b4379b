package trial

import (
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

// Ladder is what is tried on a gauge unless faults are named: every kind its
// instruments can have, in sizes around the gap that is allowed between them.
func Ladder(sheet *datasheet.Sheet, limit quantity.Length) []scenario.Fault {
	l := ladder{sheet: sheet, limit: float64(limit)}
	if sheet.Float.Follower != datasheet.NoFollower {
		l.float(sheet.Float.Tag)
	}
	for _, t := range []*datasheet.Transmitter{sheet.Transmitter, sheet.Second} {
		if t != nil {
			l.transmitter(t)
		}
	}
	for i := range sheet.Points {
		tag := sheet.Points[i].Tag
		l.add(scenario.PointFailed, tag, 0)
		l.lengths(scenario.PointShifted, tag, 0.5, 1, 2)
		l.lengths(scenario.PointWidened, tag, 1)
	}
	if sheet.Vessel != nil {
		l.lengths(scenario.VesselNoisy, sheet.Vessel.Tag, 0.5)
	}
	l.add(scenario.LowerPlugged, "", 180, 900)
	l.add(scenario.ChamberIsolated, "", 0)
	return l.list
}

type ladder struct {
	sheet *datasheet.Sheet
	limit float64 // metres
	list  []scenario.Fault
}

const month = 365.25 / 12 * 86400 // seconds

// add adds a kind in sizes in SI; 0 is that of the kind. What the gauge cannot
// have is left out.
func (l *ladder) add(k scenario.Kind, tag string, sizes ...float64) {
	for _, size := range sizes {
		f := scenario.Fault{Gauge: l.sheet.Tag, Kind: k, Part: tag, Size: size}
		if scenario.CanGraft(l.sheet, f) {
			l.list = append(l.list, f)
		}
	}
}

// lengths adds sizes in shares of the allowed gap.
func (l *ladder) lengths(k scenario.Kind, tag string, shares ...float64) {
	for _, s := range shares {
		l.add(k, tag, round(s*l.limit, 1e-3))
	}
}

// rates adds drifts in shares of the allowed gap a month.
func (l *ladder) rates(k scenario.Kind, tag string, shares ...float64) {
	for _, s := range shares {
		l.add(k, tag, round(s*l.limit, 1e-3)/month)
	}
}

func (l *ladder) float(tag string) {
	l.add(scenario.FloatStuck, tag, 0)
	l.add(scenario.FloatDrags, tag, 0)
	l.add(scenario.FloatOneWay, tag, 0)
	l.lengths(scenario.FloatStickSlip, tag, 0.5, 1)
	l.add(scenario.FloatSunk, tag, 0)
	l.rates(scenario.FloatHeavier, tag, 0.5, 1, 2)
	l.add(scenario.DensityWrong, tag, 0)
	l.add(scenario.FollowerDecoupled, tag, 0)
	l.lengths(scenario.FollowerShifted, tag, 0.5, 1, 2)
	l.lengths(scenario.FollowerNoisy, tag, 0.5)
	l.signal(tag)
}

func (l *ladder) transmitter(t *datasheet.Transmitter) {
	l.lengths(scenario.TransmitterZero, t.Tag, 0.5, 1, 2)
	l.rates(scenario.TransmitterDrift, t.Tag, 0.5, 1, 2)
	height := float64(l.sheet.Chamber.CentreToCentre)
	for _, s := range []float64{1, 2} { // the allowed gap at the upper tap
		l.add(scenario.TransmitterSpan, t.Tag, round(s*l.limit/height, 1e-2))
	}
	l.add(scenario.TransmitterFrozen, t.Tag, 0)
	l.add(scenario.TransmitterSaturated, t.Tag, 0)
	l.lengths(scenario.RadarFoam, t.Tag, 1)
	l.add(scenario.RadarBuildUp, t.Tag, 0)
	l.add(scenario.LegEmpty, t.Tag, 0)
	l.add(scenario.LegPartlyFilled, t.Tag, 0)
	l.add(scenario.LegPlugged, t.Tag, 0)
	l.lengths(scenario.DisplacerStuck, t.Tag, 1)
	l.lengths(scenario.TransmitterNoisy, t.Tag, 0.5)
	l.signal(t.Tag)
}

// signal adds what can happen to the signal of any level instrument.
func (l *ladder) signal(tag string) {
	l.add(scenario.SignalWild, tag, 0)
	l.add(scenario.TimeSkew, tag, 60, 900)
	l.add(scenario.SignalLost, tag, 0)
}

// round keeps two digits of a size in a unit, so that it reads well.
func round(size, unit float64) float64 {
	v := size / unit
	if v <= 0 {
		return size
	}
	scale := math.Pow(10, 1-math.Floor(math.Log10(v)))
	return math.Round(v*scale) / scale * unit
}
