package config

import (
	"slices"
	"strings"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// writtenFluid undoes completeFluid.
func writtenFluid(f datasheet.Fluid) datasheet.Fluid {
	if f.Model == datasheet.Petroleum {
		f.Expansion *= 1.8
	}
	if f.Upper != nil {
		upper := writtenFluid(*f.Upper)
		f.Upper = &upper
	}
	f.Parts = slices.Clone(f.Parts)
	for i := range f.Parts {
		f.Parts[i].Fluid = writtenFluid(f.Parts[i].Fluid)
	}
	return f
}

// signalForm is the signal as it would be written, in the unit it was written
// in.
func (c *Config) signalForm(g *Gauge, role Role, point int) *signalForm {
	s := g.Signal(role, point)
	if s == nil || s.Shared {
		return nil
	}
	f := &signalForm{
		Source: s.Source, Kind: s.Spec.Kind, LiveZero: s.Spec.LiveZero, Class: s.Spec.Class,
		Invert: s.Spec.Invert, Sentinels: s.Spec.Sentinels, Scale: s.Spec.RawScale,
		Table: s.Table, Type: s.Type, Node: s.Node, Topic: s.Topic, Path: s.Path, Metric: s.Metric, Column: s.Column, EveryScan: s.EveryScan, Delay: s.Delay,
	}
	if s.Table != "" {
		f.UnitID, f.Address = &s.UnitID, &s.Address
		if s.Type == "bit" {
			if s.Table == "holding" || s.Table == "input" {
				f.Bit = &s.Bit
			}
		} else {
			f.Order = s.Order
		}
	}
	u := c.unitOf(g.Kind(role), s.Unit)
	switch s.Spec.Kind {
	case signal.Value:
		f.Unit = s.Unit
		if s.Unit == percent {
			f.Range = u.span(s.Spec.Range)
			u.scale, u.offset = (s.Spec.Range[1]-s.Spec.Range[0])/100, s.Spec.Range[0]
		}
		if factor := roundTo12(orOne(s.Spec.Scale) / u.scale); factor != 1 {
			f.Scale = factor
		}
		f.Offset = roundTo12((s.Spec.Offset - u.offset) / u.scale)
	case signal.Current, signal.Voltage:
		f.Range = u.span(s.Spec.Range)
	case signal.Counts:
		f.Range, f.Raw = u.span(s.Spec.Range), s.Spec.Raw[:]
	}
	if s.Spec.High > s.Spec.Low {
		f.Plausible = u.span([2]float64{s.Spec.Low, s.Spec.High})
	}
	return f
}

func orOne(v float64) float64 {
	if v == 0 {
		return 1
	}
	return v
}

// shownUnit is a unit with SI = number*scale + offset.
type shownUnit struct {
	name          string
	scale, offset float64
}

// unitOf finds the unit a signal was written in; one that is not known any
// more is shown in the first unit of its kind.
func (c *Config) unitOf(kind quantity.Kind, name string) shownUnit {
	d := decoder{atmosphere: c.Site.AtmosphericPressure}
	for _, try := range append([]string{name}, kind.Units()...) {
		if scale, offset, err := d.unit(kind, try); err == nil {
			return shownUnit{strings.TrimSpace(try), scale, offset}
		}
	}
	return shownUnit{name: name, scale: 1}
}

func (u shownUnit) of(si float64) string { return short((si - u.offset) / u.scale) }

func (u shownUnit) span(ends [2]float64) string {
	return u.of(ends[0]) + ".." + u.of(ends[1]) + " " + u.name
}
