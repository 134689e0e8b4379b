package config

import (
	"io"

	"github.com/goccy/go-yaml"
)

// Print writes the effective configuration as YAML that Load would read to the
// same Config: every default spelt out, secrets only as their references.
func Print(c *Config, w io.Writer) error {
	return yaml.NewEncoder(w, yaml.IndentSequence(true)).Encode(writeShape(documentShape(), c.document()))
}

// document turns the Config back into the form it is written in.
func (c *Config) document() *document {
	doc := &document{
		Site: c.Site, Service: c.Service, Store: c.Store, History: c.History, Influx: c.Influx, Pair: c.Pair,
		Sources: c.Sources, Notify: c.Notify, Users: c.Users, Tokens: c.Tokens, Quiet: c.Quiet,
	}
	for i := range c.Gauges {
		doc.Gauges = append(doc.Gauges, c.gaugeForm(&c.Gauges[i]))
	}
	return doc
}

// gaugeForm hangs each signal back on its instrument.
func (c *Config) gaugeForm(g *Gauge) gaugeForm {
	s := &g.Sheet
	form := gaugeForm{
		Tag: s.Tag, Service: s.Service, Area: s.Area,
		Data:    dataForm{s.MaxPressure, s.MaxTemperature, s.OperatingPressure, s.OperatingTemp, s.DesignSG, [2]float64{s.SGMin, s.SGMax}, s.Gravity},
		Chamber: s.Chamber, Fluid: writtenFluid(s.Fluid),
		Limits: s.Limits, Drift: driftForm{Length: s.Limits.Drift}, Budget: s.Budget,
	}
	if s.Float.Mass > 0 {
		form.Float = &floatForm{s.Float, c.signalForm(g, RoleFloat, 0)}
	}
	if s.Transmitter != nil {
		form.Transmitter = &transmitterForm{*s.Transmitter, c.signalForm(g, RoleTransmitter, 0)}
	}
	if s.Second != nil {
		form.Second = &transmitterForm{*s.Second, c.signalForm(g, RoleSecond, 0)}
	}
	for i, p := range s.Points {
		form.Points = append(form.Points, pointForm{p, c.signalForm(g, RolePoint, i)})
	}
	if s.Pressure != nil {
		form.Pressure = &instrumentForm{*s.Pressure, c.signalForm(g, RolePressure, 0)}
	}
	if s.Temperature != nil {
		form.Temperature = &instrumentForm{*s.Temperature, c.signalForm(g, RoleTemperature, 0)}
	}
	if s.ChamberTemperature != nil {
		form.ChamberTemperature = &instrumentForm{*s.ChamberTemperature, c.signalForm(g, RoleChamberTemperature, 0)}
	}
	if s.Densitometer != nil {
		form.Densitometer = &instrumentForm{*s.Densitometer, c.signalForm(g, RoleDensity, 0)}
	}
	if s.Vessel != nil {
		form.Vessel = &vesselForm{*s.Vessel, c.signalForm(g, RoleVessel, 0)}
	}
	return form
}
