package config

import (
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// Limits of what is usual, in distances between the taps. A signal set for
// much less or much more is often a slip of the unit. Common practice, no
// source.
const (
	leastSpan = 0.5
	mostSpan  = 4.0
	headRoom  = quantity.Length(3) // of a radar's process seal above the upper tap
)

// checkLevels advises on level signals whose range does not suit the chamber.
func (d *decoder) checkLevels(g *Gauge, n *node) {
	between := g.Sheet.Chamber.CentreToCentre
	if between <= 0 {
		return
	}
	for i := range g.Signals {
		s := &g.Signals[i]
		if s.Role == RolePoint || g.Kind(s.Role) != quantity.KindLength {
			continue
		}
		span := quantity.Length(math.Abs(s.Spec.Range[1] - s.Spec.Range[0]))
		share := float64(span / between)
		if span > 0 && (share < leastSpan || share > mostSpan && s.Role != RoleVessel) {
			d.advise(s.Place.below("range"), "%s spans %s mm and the taps are %s mm apart: is its unit right?", s.Tag, short(span.Millimetres()), short(between.Millimetres()))
		}
		believed := quantity.Length(s.Spec.High - s.Spec.Low)
		if believed > 0 && float64(believed/between) < leastSpan {
			d.advise(s.Place.below("plausible"), "only %s mm of the %s mm between the taps are believed of %s", short(believed.Millimetres()), short(between.Millimetres()), s.Tag)
		}
	}
	d.checkHeadRoom(g.Sheet.Transmitter, between, n.field("transmitter"))
	d.checkHeadRoom(g.Sheet.Second, between, n.field("second_transmitter"))
}

// checkHeadRoom advises on a radar on the chamber that sits far above it.
func (d *decoder) checkHeadRoom(t *datasheet.Transmitter, between quantity.Length, n *node) {
	if t == nil || t.Principle != datasheet.Radar || t.Chamber == "vessel" {
		return
	}
	if above := t.ReferencePoint - between; above > headRoom {
		d.advise(n.find("reference_point"), "is %s mm above the upper tap: is its unit right?", short(above.Millimetres()))
	}
}
