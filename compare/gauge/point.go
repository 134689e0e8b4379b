package gauge

import (
	"fmt"
	"math"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/uncertainty"
)

// PointReading is what a point switch says: its state, and where it is known
// the state before and the time between the two.
type PointReading struct {
	State, Before Switch
	Between       time.Duration // of the two readings
	Rate          float64       // m/s, the largest rate of change believed possible in that time; its sign does not matter
}

// Interval is what a point switch measures: not a level but a range it lies
// in, with what the edges are uncertain by. For a switch that the float's
// magnet works it is the indication of the follower that lies in the range, not
// the surface.
type Interval struct {
	Low, High     quantity.Length
	LowKnown      bool            // false: nothing is known of the lower end
	HighKnown     bool            // false: nothing is known of the upper end
	U             quantity.Length // standard uncertainty of an edge
	Crossing      bool            // the switch has just changed: both ends are known
	ByFloat       bool
	CrossingValue quantity.Length // middle of the interval of a crossing
	CrossingU     quantity.Length // its standard uncertainty: interval as rectangle, edge and half the differential
	Sentence      string
}

// PointSays turns the state of a point switch into an interval:
//
//   - steadily wet: at or above the falling trip point; steadily dry: at or below the rising one;
//   - changed to wet between two readings: it passed the rising trip point and went on by at most
//     rate times the time between; changed to dry likewise below the falling one.
//
// An unknown state and an index without a switch are errors.
func (m *Model) PointSays(index int, r PointReading) (Interval, error) {
	if index < 0 || index >= len(m.sheet.Points) {
		return Interval{}, fmt.Errorf("gauge %q has %d point switches, none with index %d", m.sheet.Tag, len(m.sheet.Points), index)
	}
	p := m.sheet.Points[index]
	if r.State == Unknown {
		return Interval{}, fmt.Errorf("gauge %q: %s says nothing: its state is unknown", m.sheet.Tag, p.Tag)
	}
	i := Interval{U: p.U, ByFloat: p.ByFloat()}
	if i.U == 0 {
		i.U = pointHalfWidth * quantity.Length(rectangular)
	}
	i.Crossing = r.Before != Unknown && r.Before != r.State && r.Between > 0
	i.edges(p, r)
	i.Sentence = i.sentence(p, r.State)
	return i, nil
}

// pointHalfWidth is how far a set point usually is from where the data sheet
// puts it. Common practice, no source.
const pointHalfWidth = 5 * quantity.Millimetre

func (i *Interval) edges(p datasheet.Point, r PointReading) {
	rising, falling := p.Trips()
	moved := quantity.Length(math.Abs(r.Rate) * r.Between.Seconds())
	switch {
	case i.Crossing && r.State == Wet:
		i.Low, i.High = rising, rising+moved
	case i.Crossing:
		i.Low, i.High = falling-moved, falling
	case r.State == Wet:
		i.Low, i.LowKnown = falling, true
		return
	default:
		i.High, i.HighKnown = rising, true
		return
	}
	i.LowKnown, i.HighKnown = true, true
	i.CrossingValue = (i.Low + i.High) / 2
	spread := uncertainty.FromHalfWidth(uncertainty.Rectangular, float64(i.High-i.Low)/2)
	i.CrossingU = quantity.Length(math.Hypot(spread, float64(i.U)))
}

func (i *Interval) sentence(p datasheet.Point, s Switch) string {
	what := "the surface in the chamber is"
	if i.ByFloat {
		what = "the float's indication is"
	}
	switch {
	case i.Crossing:
		return fmt.Sprintf("%s changed to %v: %s at %.0f ± %.0f mm (k = 2).", p.Tag, s, what, i.CrossingValue.Millimetres(), 2*i.CrossingU.Millimetres())
	case s == Wet:
		return fmt.Sprintf("%s is wet: %s at or above %.0f mm (± %.0f mm, k = 2).", p.Tag, what, i.Low.Millimetres(), 2*i.U.Millimetres())
	}
	return fmt.Sprintf("%s is dry: %s at or below %.0f mm (± %.0f mm, k = 2).", p.Tag, what, i.High.Millimetres(), 2*i.U.Millimetres())
}

// Contradicts reports whether a level with its standard uncertainty lies
// outside the interval by more than k combined standard uncertainties, and by
// how much.
func (i *Interval) Contradicts(h, u quantity.Length, k float64) (by quantity.Length, yes bool) {
	allowed := quantity.Length(k * math.Hypot(float64(u), float64(i.U)))
	switch {
	case i.LowKnown && h < i.Low-allowed:
		return i.Low - h, true
	case i.HighKnown && h > i.High+allowed:
		return h - i.High, true
	}
	return 0, false
}
