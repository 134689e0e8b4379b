package config

import (
	"slices"
	"strings"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/pipe"
	"bridlewatch/compare/quantity"
)

// assemble makes the Config of a document: defaults that depend on other
// values are filled in and the signals are collected from their instruments.
func (d *decoder) assemble(doc *document) *Config {
	c := &Config{
		Site: doc.Site, Service: doc.Service, Store: doc.Store, History: doc.History, Influx: doc.Influx, Pair: doc.Pair,
		Sources: doc.Sources, Notify: doc.Notify, Users: doc.Users, Tokens: doc.Tokens, Quiet: doc.Quiet,
	}
	for i := range c.Sources {
		completeSource(&c.Sources[i])
	}
	for i := range doc.Gauges {
		c.Gauges = append(c.Gauges, d.gauge(&doc.Gauges[i], c.Sources))
	}
	for i := range doc.Gauges {
		d.share(c, &c.Gauges[i], &doc.Gauges[i])
		if l := &c.Gauges[i].Sheet.Limits; l.VerifyDays == 0 {
			l.VerifyDays = c.Site.VerifyDays
		}
	}
	return c
}

// share gives an instrument without a signal that of the same tag on another
// gauge: two gauges of one vessel share its pressure.
func (d *decoder) share(c *Config, g *Gauge, form *gaugeForm) {
	for _, want := range []struct {
		role Role
		key  string
		form *instrumentForm
	}{
		{RolePressure, "pressure", form.Pressure},
		{RoleTemperature, "temperature", form.Temperature},
		{RoleChamberTemperature, "chamber_temperature", form.ChamberTemperature},
		{RoleDensity, "densitometer", form.Densitometer},
	} {
		if want.form == nil || want.form.Signal != nil {
			continue
		}
		at := form.node.field(want.key)
		found, ok := c.signalOf(want.form.Tag, g.Kind(want.role))
		if !ok {
			d.report(at.place.below("signal"), "is missing: where its value comes from, unless another gauge has a signal of this kind for the same tag")
			continue
		}
		found.Role, found.Shared, found.Place = want.role, true, at.place
		g.Signals = append(g.Signals, found)
	}
}

func completeSource(s *Source) {
	if s.MaxAge == 0 {
		s.MaxAge = 3 * s.Every
	}
	if s.Protocol == ModbusRTU && s.StopBits == 0 {
		s.StopBits = 1
		if s.Parity == "none" {
			s.StopBits = 2 // MODBUS over Serial Line V1.02, 2.5.1: 11 bits per character
		}
	}
	if s.Protocol == OPCUA && s.SecurityMode == "" {
		s.SecurityMode = "SignAndEncrypt"
		if s.SecurityPolicy == "None" {
			s.SecurityMode = "None"
		}
	}
	if s.Subscribe && s.SamplingEvery == 0 {
		s.SamplingEvery = s.Every / 2
	}
}

// gauge makes the data sheet and the signals of one gauge.
func (d *decoder) gauge(g *gaugeForm, sources []Source) Gauge {
	out := Gauge{Place: g.node.place}
	out.Sheet = datasheet.Sheet{
		Tag: g.Tag, Service: g.Service, Area: g.Area,
		MaxPressure: g.Data.MaxPressure, MaxTemperature: g.Data.MaxTemp,
		OperatingPressure: g.Data.OperPressure, OperatingTemp: g.Data.OperTemp,
		DesignSG: g.Data.SG, SGMin: g.Data.SGRange[0], SGMax: g.Data.SGRange[1], Gravity: g.Data.Gravity,
		Chamber: g.Chamber, Fluid: g.Fluid,
		Limits: g.Limits, Budget: g.Budget,
	}
	if out.Sheet.SGMax == 0 {
		out.Sheet.SGMin, out.Sheet.SGMax = g.Data.SG, g.Data.SG
	}
	d.completeChamber(&out.Sheet.Chamber, g.node.field("chamber"))
	completeFluid(&out.Sheet.Fluid)
	out.Sheet.Limits.Drift = g.Drift.of(g.Chamber.CentreToCentre)

	collect := func(role Role, tag string, f *signalForm, kind quantity.Kind) {
		if f != nil {
			out.Signals = append(out.Signals, d.signal(role, tag, f, kind, sources))
		}
	}
	out.Sheet.Float.Follower = datasheet.NoFollower
	if f := g.Float; f != nil {
		out.Sheet.Float = f.Float
		completeFloat(&out.Sheet, f.Signal != nil)
		collect(RoleFloat, f.Tag, f.Signal, quantity.KindLength)
	}
	if t := g.Transmitter; t != nil {
		out.Sheet.Transmitter = &t.Transmitter
		collect(RoleTransmitter, t.Tag, t.Signal, transmitterKind(&t.Transmitter))
	}
	if t := g.Second; t != nil {
		out.Sheet.Second = &t.Transmitter
		collect(RoleSecond, t.Tag, t.Signal, transmitterKind(&t.Transmitter))
	}
	for i := range g.Points {
		out.Sheet.Points = append(out.Sheet.Points, g.Points[i].Point)
		collect(RolePoint, g.Points[i].Tag, g.Points[i].Signal, quantity.NoKind)
		if n := len(out.Signals); n > 0 && out.Signals[n-1].Role == RolePoint {
			out.Signals[n-1].Point = i
		}
	}
	instrument := func(role Role, i *instrumentForm, kind quantity.Kind) *datasheet.Instrument {
		if i == nil {
			return nil
		}
		collect(role, i.Tag, i.Signal, kind)
		return &i.Instrument
	}
	out.Sheet.Pressure = instrument(RolePressure, g.Pressure, quantity.KindPressure)
	out.Sheet.Temperature = instrument(RoleTemperature, g.Temperature, quantity.KindTemperature)
	out.Sheet.ChamberTemperature = instrument(RoleChamberTemperature, g.ChamberTemperature, quantity.KindTemperature)
	out.Sheet.Densitometer = instrument(RoleDensity, g.Densitometer, quantity.KindDensity)
	if v := g.Vessel; v != nil {
		out.Sheet.Vessel = &v.Vessel
		collect(RoleVessel, v.Tag, v.Signal, quantity.KindLength)
	}
	return out
}

func (f driftForm) of(range_ quantity.Length) quantity.Length {
	if f.Share > 0 {
		return quantity.Length(f.Share) * range_
	}
	return f.Length
}

// transmitterKind is what the signal of a transmitter is a measure of.
func transmitterKind(t *datasheet.Transmitter) quantity.Kind {
	switch t.Principle {
	case datasheet.DPWet, datasheet.DPDry, datasheet.DPSeals:
		if !t.Compensated {
			return quantity.KindPressureDifference
		}
	case datasheet.Displacer:
		if t.CalibratedFor == 0 {
			return quantity.KindForce
		}
	}
	return quantity.KindLength
}

// completeChamber takes the diameters from the pipe where they are not given.
func (d *decoder) completeChamber(c *datasheet.Chamber, n *node) {
	if n == nil || c.InnerDiameter > 0 && c.OuterDiameter > 0 {
		return
	}
	dimension, err := pipe.Lookup(c.PipeSize, c.Schedule)
	if err != nil {
		name := "pipe_size"
		if strings.Contains(err.Error(), "schedule") {
			name = "schedule"
		}
		d.report(n.find(name), "%v", err)
		return
	}
	if c.InnerDiameter == 0 {
		c.InnerDiameter = dimension.Bore()
	}
	if c.OuterDiameter == 0 {
		c.OuterDiameter = dimension.Outer
	}
}

func completeFluid(f *datasheet.Fluid) {
	if f.Vapour.Model == "" {
		f.Vapour.Model = datasheet.NoVapour
		if f.Model == datasheet.Water {
			f.Vapour.Model = datasheet.Steam
		}
	}
	if f.Model == datasheet.Petroleum {
		f.Expansion /= 1.8 // API MPMS 11.1 states it per degree Fahrenheit
	}
	if f.Upper != nil {
		completeFluid(f.Upper)
	}
	for i := range f.Parts {
		completeFluid(&f.Parts[i].Fluid)
	}
}

func completeFloat(s *datasheet.Sheet, hasSignal bool) {
	f := &s.Float
	switch {
	case f.Follower != "":
	case f.Pitch > 0:
		f.Follower = datasheet.ReedChain
	case hasSignal:
		f.Follower = datasheet.Magnetostrictive
	default:
		f.Follower = datasheet.NoFollower
	}
	if f.BuiltFor == 0 {
		f.BuiltFor = s.DesignDensity()
	}
}

// sourceOf finds the source a signal names; the only one needs no name.
func (d *decoder) sourceOf(f *signalForm, sources []Source) *Source {
	if f.Source == "" {
		switch len(sources) {
		case 0:
			d.report(f.node.find("source"), "is missing: there is no source to read it from; add one to the list sources")
			return nil
		case 1:
			return &sources[0]
		}
		d.report(f.node.find("source"), "is missing: with %d sources a signal must name the one it is read from", len(sources))
		return nil
	}
	if i := slices.IndexFunc(sources, func(s Source) bool { return s.Name == f.Source }); i >= 0 {
		return &sources[i]
	}
	names := make([]string, len(sources))
	for i := range sources {
		names[i] = sources[i].Name
	}
	if len(names) == 0 {
		d.report(f.node.find("source"), "no source is called %q: there is none; add it to the list sources", f.Source)
		return nil
	}
	d.report(f.node.find("source"), "no source is called %q%s (sources: %s)", f.Source, didYouMean(f.Source, names), strings.Join(names, ", "))
	return nil
}
