package fit

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// Range is what the signal of an instrument spans, in SI.
type Range struct {
	Tag       string
	Low, High float64
}

// Span is what a transmitter that feels a pressure or a weight feels from one
// tap to the other at the operating state: what its range is set by.
type Span struct {
	Tag     string      `json:"tag"`
	Unit    string      `json:"unit"`
	Lower   float64     `json:"at_lower_tap"`
	Upper   float64     `json:"at_upper_tap"`
	Set     *[2]float64 `json:"set,omitempty"` // ends of its signal
	Covered bool        `json:"covered"`       // by its signal; true where that is not known
}

// uncovered is the share of a span that may be outside of the signal's range
// without a word: a range is set to round numbers. Common practice, no source.
const uncovered = 0.02

// spans finds what dp cells and weighed displacers feel at both taps.
func (c *check) spans(ranges []Range) {
	for _, t := range []*datasheet.Transmitter{c.sheet.Transmitter, c.sheet.Second} {
		if t == nil || !t.Weighs() || t.Compensated {
			continue
		}
		second := t == c.sheet.Second
		lower, err := c.feels(0, second)
		if err != nil {
			continue // a state no fluid model allows, reported elsewhere
		}
		upper, err := c.feels(c.sheet.Chamber.CentreToCentre, second)
		if err != nil {
			continue
		}
		c.span(t, lower, upper, ranges)
	}
}

// feels is the reading of a transmitter with the surface at a level in chamber
// and vessel.
func (c *check) feels(h quantity.Length, second bool) (float64, error) {
	var in gauge.Snapshot
	if err := c.model.Indicate(&gauge.Truth{VesselLevel: h, ChamberLevel: h}, &in); err != nil {
		return 0, err
	}
	if second {
		return in.Second.Value, nil
	}
	return in.Transmitter.Value, nil
}

func (c *check) span(t *datasheet.Transmitter, lower, upper float64, ranges []Range) {
	s := Span{Tag: t.Tag, Unit: "kPa", Lower: lower / 1e3, Upper: upper / 1e3, Covered: true}
	scale := 1e-3
	if t.Principle == datasheet.Displacer {
		s.Unit, s.Lower, s.Upper, scale = "N", lower, upper, 1
	}
	if i := slices.IndexFunc(ranges, func(r Range) bool { return r.Tag == t.Tag }); i >= 0 {
		low, high := scale*math.Min(ranges[i].Low, ranges[i].High), scale*math.Max(ranges[i].Low, ranges[i].High)
		s.Set = &[2]float64{low, high}
		slack := uncovered * math.Abs(s.Upper-s.Lower)
		s.Covered = low-slack <= math.Min(s.Lower, s.Upper) && high+slack >= math.Max(s.Lower, s.Upper)
	}
	c.report.Spans = append(c.report.Spans, s)
	if !s.Covered {
		c.report.advise(Warning, "transmitter range", fmt.Sprintf("The signal of %s ends at %.4g and %.4g %s, the surface between the taps gives %.4g to %.4g %s: part of the range cannot be measured. Check the range, the density of the leg and which side goes to which tap.",
			s.Tag, s.Set[0], s.Set[1], s.Unit, s.Lower, s.Upper, s.Unit), Calculated)
	}
}
