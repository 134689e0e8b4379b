package config

import (
	"fmt"
	"strings"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/quantity"
)

// signal makes the Signal of one instrument: what is read where, and how it
// becomes a quantity of the given kind in SI units.
func (d *decoder) signal(role Role, tag string, f *signalForm, kind quantity.Kind, sources []Source) Signal {
	s := Signal{Role: role, Tag: tag, Source: f.Source, Unit: f.Unit, Node: f.Node, Topic: f.Topic, Path: f.Path, Metric: f.Metric, Column: f.Column, Delay: f.Delay, Place: f.node.place}
	if s.Column == "" {
		s.Column = tag
	}
	d.conversion(&s, f, kind)
	source := d.sourceOf(f, sources)
	if source == nil {
		return s
	}
	s.Source = source.Name
	switch {
	case source.Protocol.Modbus():
		d.modbusAddress(&s, f, source)
	case source.Protocol == OPCUA:
		d.opcuaNode(&s, f, source)
	case source.Protocol == MQTT, source.Protocol == SparkplugB, source.Protocol == CSVFolder:
		d.published(&s, f, source)
	case source.Protocol == ReplayHistory:
		d.refuse(f, "is not used by a history source", "unit_id", "table", "address", "register", "type", "order", "bit", "node", "every_scan", "topic", "path", "metric")
	}
	return s
}

// refuse reports keys that were written and have no place here.
func (d *decoder) refuse(f *signalForm, why string, names ...string) {
	for _, name := range names {
		if f.node.field(name) != nil {
			d.report(keyPlace(f.node, name), "%s", why)
		}
	}
}

// lacks reports a key that this signal needs; one that was written and could
// not be read has been reported already.
func (d *decoder) lacks(f *signalForm, name, what string) {
	if given := f.node.field(name); given == nil || given.kind == null {
		d.report(f.node.place.below(name), "is missing: %s", what)
	}
}

// conversion fills in the Spec: how the raw value becomes an SI value.
func (d *decoder) conversion(s *Signal, f *signalForm, kind quantity.Kind) {
	before := len(d.problems)
	spec := &s.Spec
	spec.Kind, spec.Invert, spec.LiveZero, spec.Class, spec.Sentinels = f.Kind, f.Invert, f.LiveZero, f.Class, f.Sentinels
	if spec.Kind == "" {
		spec.Kind = defaultKind(s.Role, f)
	}
	if (s.Role == RolePoint) != (spec.Kind == signal.Contact) {
		d.report(f.node.find("kind"), "a %s signal cannot be of kind %s%s", s.Role, spec.Kind, map[bool]string{true: "; a point switch is a contact"}[s.Role == RolePoint])
		return
	}
	if f.node.field("scale") != nil && f.Scale == 0 {
		d.report(f.node.find("scale"), "is 0: every reading would be the same")
	}
	switch spec.Kind {
	case signal.Contact:
		d.refuse(f, "is not used by a contact", "unit", "range", "raw", "scale", "offset", "live_zero", "class", "plausible")
	case signal.Value:
		d.valueConversion(s, f, kind)
	case signal.Pt100:
		d.pt100Conversion(s, f, kind)
	default:
		d.rangeConversion(s, f, kind)
	}
	if spec.Kind != signal.Contact {
		d.refuse(f, "is used by a contact only", "invert")
	}
	d.plausible(s, f, kind)
	if len(d.problems) > before || f.Range == "" && f.node.field("range") != nil {
		return // what follows from it would be noise
	}
	for _, err := range spec.Validate() {
		d.report(f.node.place, "%v", err)
	}
}

func defaultKind(role Role, f *signalForm) signal.Kind {
	switch {
	case role == RolePoint:
		return signal.Contact
	case len(f.Raw) > 0:
		return signal.Counts
	}
	return signal.Value
}

// valueConversion is for a number in a unit: SI = (raw*scale + offset) in it.
func (d *decoder) valueConversion(s *Signal, f *signalForm, kind quantity.Kind) {
	d.refuse(f, "is not used by a value", "raw", "live_zero", "class")
	if f.Unit == "" {
		d.lacks(f, "unit", fmt.Sprintf("the unit of the value, of %s: %s, or %% of a range", kind, strings.Join(unitsOf(kind), ", ")))
		return
	}
	scale, offset, ok := d.valueUnit(s, f, kind)
	if !ok {
		return
	}
	factor := 1.0
	if f.node.field("scale") != nil {
		factor = f.Scale
	}
	s.Spec.Scale = factor * scale
	s.Spec.Offset = f.Offset*scale + offset
}

// valueUnit finds SI = number*scale + offset for the unit of a value, which
// may be the percent of a range.
func (d *decoder) valueUnit(s *Signal, f *signalForm, kind quantity.Kind) (scale, offset float64, ok bool) {
	if f.Unit != percent {
		d.refuse(f, "is used with unit % only; a current, a voltage or counts has a range as well (write the kind)", "range")
		scale, offset, err := d.unit(kind, f.Unit)
		if err != nil {
			d.report(f.node.find("unit"), "%v", err)
		}
		return scale, offset, err == nil
	}
	if f.Range == "" {
		d.lacks(f, "range", `the value at 0 % and at 100 %, for example "0..1200 mm"`)
		return 0, 0, false
	}
	low, high, _, err := quantity.ParseRange(kind, f.Range, d.atmosphere)
	if err != nil {
		d.report(f.node.find("range"), "%v", err)
		return 0, 0, false
	}
	s.Spec.Range = [2]float64{low, high}
	return (high - low) / 100, low, true
}

// percent of a range is a unit that any quantity may be sent in.
const percent = "%"

// rangeConversion is for a current, a voltage or counts.
func (d *decoder) rangeConversion(s *Signal, f *signalForm, kind quantity.Kind) {
	d.refuse(f, "is used by a value only; the range says where a "+string(s.Spec.Kind)+" begins", "offset")
	d.refuse(f, "is used by a value only; the range carries the unit", "unit")
	d.refuse(f, "is used by a pt100 only", "class")
	if s.Spec.Kind == signal.Counts {
		d.refuse(f, "is not used by counts; raw says what the device sends", "scale")
		d.rawLimits(s, f)
	} else {
		d.refuse(f, "is used by counts only", "raw", "live_zero")
		s.Spec.RawScale = f.Scale
	}
	if f.Range == "" {
		d.lacks(f, "range", `the value at both ends of the signal, for example "0..1200 mm"`)
		return
	}
	low, high, unit, err := quantity.ParseRange(kind, f.Range, d.atmosphere)
	if err != nil {
		d.report(f.node.find("range"), "%v", err)
		return
	}
	s.Spec.Range, s.Unit = [2]float64{low, high}, unit
}

func (d *decoder) rawLimits(s *Signal, f *signalForm) {
	if len(f.Raw) != 2 {
		d.report(f.node.find("raw"), "must be two numbers, the counts at both ends of the range, for example [0, 27648]")
		return
	}
	s.Spec.Raw = [2]float64{f.Raw[0], f.Raw[1]}
}

func (d *decoder) pt100Conversion(s *Signal, f *signalForm, kind quantity.Kind) {
	if kind != quantity.KindTemperature {
		d.report(f.node.find("kind"), "a pt100 measures a temperature, not a %s", kind)
	}
	d.refuse(f, "is not used by a pt100", "unit", "range", "raw", "offset", "live_zero")
	s.Spec.RawScale, s.Unit = f.Scale, "degC"
}

func (d *decoder) plausible(s *Signal, f *signalForm, kind quantity.Kind) {
	if f.Plausible == "" || kind == quantity.NoKind {
		return
	}
	low, high, _, err := quantity.ParseRange(kind, f.Plausible, d.atmosphere)
	if err == nil && low > high {
		low, high = high, low
	}
	if err != nil {
		d.report(f.node.find("plausible"), "%v", err)
		return
	}
	s.Spec.Low, s.Spec.High = low, high
}

// unit finds SI = number*scale + offset for a unit of the kind; a gauge
// pressure lies above the atmospheric pressure of the site.
func (d *decoder) unit(kind quantity.Kind, name string) (scale, offset float64, err error) {
	if kind == quantity.KindPressure {
		if scale, _, err := quantity.UnitOf(quantity.KindGaugePressure, name); err == nil {
			return scale, float64(d.atmosphere), nil
		}
	}
	return quantity.UnitOf(kind, name)
}

func unitsOf(kind quantity.Kind) []string {
	if kind == quantity.KindPressure {
		return append(quantity.KindGaugePressure.Units(), kind.Units()...)
	}
	return kind.Units()
}
