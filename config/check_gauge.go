package config

import (
	"math"
	"strconv"
	"strings"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// checkGauge looks at one gauge as a whole. A gauge that could not be read
// completely is not judged: what follows from a missing value would be noise.
func (d *decoder) checkGauge(g *Gauge, n *node) {
	for _, p := range d.problems {
		if strings.HasPrefix(p.Place.Path, n.place.Path+".") || p.Place.Path == n.place.Path {
			return
		}
	}
	for _, p := range g.Sheet.Validate() {
		d.report(n.lookup(p.Path), "%s", p.Message)
	}
	d.checkFluid(g, &g.Sheet.Fluid, n.field("fluid"))
	d.checkInstruments(g, n)
	d.checkLevels(g, n)
}

// lookup follows a path of the data sheet, "points[1].elevation", as far as it
// was written.
func (n *node) lookup(path string) Place {
	at := n
	place := n.place
	for _, step := range strings.Split(path, ".") {
		name, index, indexed := strings.Cut(strings.TrimSuffix(step, "]"), "[")
		place = place.below(name)
		if at = at.field(name); at == nil {
			continue
		}
		place = at.place
		if i, err := strconv.Atoi(index); indexed && err == nil && i < len(at.items) {
			at = at.items[i]
			place = at.place
		}
	}
	return place
}

// checkFluid looks at what a fluid model needs beyond single values.
func (d *decoder) checkFluid(g *Gauge, f *datasheet.Fluid, n *node) {
	switch f.Model {
	case datasheet.Measured:
		if g.Sheet.Densitometer == nil {
			d.report(n.find("model"), "measured needs a densitometer on the gauge")
		}
	case datasheet.Petroleum:
		d.checkPetroleum(f, n)
	case datasheet.Table:
		d.checkTable(f, n)
	case datasheet.Pure:
		d.checkComponents(f, n)
	case datasheet.Polynomial:
		d.checkPolynomial(f, n)
	case datasheet.Blend:
		d.checkBlend(g, f, n)
	case datasheet.Coefficient:
		if f.Expansion == 0 {
			d.report(n.place.below("expansion"), "is missing: without it the density would be constant (model: constant)")
		}
	}
	if f.Upper != nil {
		upper := n.field("upper")
		d.checkFluid(g, f.Upper, upper)
		if heavy, light := f.BaseDensity, f.Upper.BaseDensity; heavy > 0 && light >= heavy {
			d.report(upper.find("base_density"), "%s kg/m3 is not lighter than the %s kg/m3 of the liquid below", short(float64(light)), short(float64(heavy)))
		}
	}
}

// checkPetroleum knows the base temperatures of API MPMS 11.1-2004, 1.3.
func (d *decoder) checkPetroleum(f *datasheet.Fluid, n *node) {
	known := false
	for _, base := range []quantity.Temperature{288.7055555555556, 288.15, 293.15} { // 60 °F, 15 °C, 20 °C
		known = known || math.Abs(float64(f.BaseTemperature-base)) < 1e-6
	}
	if !known {
		d.report(n.find("base_temperature"), "must be 60 degF, 15 degC or 20 degC for petroleum")
	}
	switch {
	case f.Group == "C" && f.Expansion == 0:
		d.report(n.place.below("expansion"), "is missing: group C is described by its own expansion")
	case f.Group != "C" && f.Expansion != 0:
		d.report(n.find("expansion"), "is used by group C only; groups A, B and D have theirs in the standard")
	}
}

func (d *decoder) checkTable(f *datasheet.Fluid, n *node) {
	if len(f.Table) < 2 {
		d.report(n.find("densities"), "has %d density; a table needs two at least", len(f.Table))
	}
	for i := 1; i < len(f.Table); i++ {
		a, b := f.Table[i-1], f.Table[i]
		if a.Pressure == b.Pressure && a.Temperature >= b.Temperature {
			d.report(n.field("densities").items[i].find("temperature"), "is not above the one before; sort the table by pressure and temperature")
		}
	}
}

func (d *decoder) checkComponents(f *datasheet.Fluid, n *node) {
	sum := 0.0
	for _, c := range f.Components {
		sum += c.Fraction
	}
	if math.Abs(sum-1) > 1e-4 {
		d.report(n.find("components"), "the mole fractions add up to %s, not to 1", short(sum))
	}
}

func (d *decoder) checkPolynomial(f *datasheet.Fluid, n *node) {
	if len(f.Powers) < 2 {
		d.report(n.find("factors"), "must be two at least: the density at base temperature and its slope")
	}
	if f.Hottest <= f.Coldest {
		d.report(n.find("hottest"), "is not above coldest")
	}
}

func (d *decoder) checkBlend(g *Gauge, f *datasheet.Fluid, n *node) {
	if len(f.Parts) < 2 {
		d.report(n.find("parts"), "must be two at least")
	}
	sum := 0.0
	for i := range f.Parts {
		sum += f.Parts[i].MassFraction
		d.checkFluid(g, &f.Parts[i].Fluid, n.field("parts").items[i].field("fluid"))
	}
	if math.Abs(sum-1) > 1e-3 {
		d.report(n.find("parts"), "the mass fractions add up to %s, not to 1", short(sum))
	}
}

// checkInstruments advises on gauges that can hardly be compared.
func (d *decoder) checkInstruments(g *Gauge, n *node) {
	levels, points := 0, 0
	for _, s := range g.Signals {
		switch s.Role {
		case RoleFloat, RoleTransmitter, RoleSecond, RoleVessel:
			levels++
		case RolePoint:
			points++
		}
	}
	switch {
	case levels+points == 0:
		d.advise(g.Place, "has no signal: it can be checked with fit, but there is nothing to watch")
	case levels+points == 1:
		d.advise(g.Place, "has one level signal only: there is nothing to compare it with")
	}
	if f := &g.Sheet.Float; f.Mass > 0 && f.Follower != datasheet.NoFollower && g.Signal(RoleFloat, 0) == nil {
		d.advise(n.lookup("float.follower"), "the float has a follower of type %s but no signal", f.Follower)
	}
	if f := g.Signal(RoleFloat, 0); f != nil && g.Sheet.Float.Follower == datasheet.NoFollower {
		d.report(n.lookup("float.follower"), "none gives no signal; name the follower, or leave the signal out")
	}
	if f := g.Signal(RoleFloat, 0); f != nil && f.Tag == "" {
		d.report(n.lookup("float.tag"), "is missing: tag of the follower's signal")
	}
}
