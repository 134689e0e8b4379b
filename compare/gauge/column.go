package gauge

import (
	"cmp"
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fluid"
	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/vessel"
)

// column is one standing liquid with the fluid above it, in kg/m3, and how far
// each of its uncertain inputs moves the density. The upper fluid is the gas,
// or for interface service the lighter liquid.
type column struct {
	liquid, gas float64

	byModel   float64 // standard uncertainty of liquid from model and composition
	byChamber float64 // from the chamber's own temperature
	byVessel  float64 // from the vessel's temperature
	byGas     float64 // standard uncertainty of gas
}

// u is the standard uncertainty of the liquid.
func (c *column) u() float64 {
	return math.Sqrt(c.byModel*c.byModel + c.byChamber*c.byChamber + c.byVessel*c.byVessel)
}

// spread adds to parts what the uncertainty of the column's two densities does
// to a level with these sensitivities, in m per kg/m3.
func (c *column) spread(parts *level.Contributions, perLiquid, perGas float64) {
	parts[level.LiquidDensity] += perLiquid * c.byModel
	parts[level.ChamberTemperature] += perLiquid * c.byChamber
	parts[level.VesselDensity] += perLiquid * c.byVessel
	parts[level.VapourDensity] += perGas * c.byGas
}

// state is what the densities are found from: pressure and temperatures with
// their standard uncertainties, in SI.
type state struct {
	pressure, vessel, chamber    float64
	uPressure, uVessel, uChamber float64
	water                        water.Isobar // at the pressure, where the vessel is under steam
	boiling                      float64      // its boiling point; 0: none
	superheat                    float64      // of a measured liquid above that, which cannot be
	read                         struct{ pressure, temperature, chamber bool }
	derived                      bool    // chamber temperature follows the vessel's
	density                      float64 // of the vessel's liquid by densitometer; 0: none
	uDensity                     float64
	composition                  float64 // true over modelled density
	above                        float64 // the same of the liquid above an interface; 0: 1
	assumed                      bool    // something came from the data sheet
}

// conditions are the densities and what a radar pulse meets, for one state,
// and how the float swims in it.
type conditions struct {
	state
	inChamber, inVessel column
	balance             vessel.Balance
	uGas                float64  // relative standard uncertainty of the gas densities
	permittivity        float64  // of the gas in the chamber, 1 without a radar
	pulse               [2]pulse // of the first and the second transmitter, where they are radars
	float               afloat
	uLiquid             float64 // kg/m3, of the liquid in the chamber
	rate                float64 // m/s, of the level
}

// join makes the hydrostatic balance of the two columns.
func (m *Model) join(c *conditions) error {
	c.balance = vessel.Balance{
		Span:       m.sheet.Chamber.CentreToCentre,
		Vessel:     quantity.Density(c.inVessel.liquid),
		VesselGas:  quantity.Density(c.inVessel.gas),
		Chamber:    quantity.Density(c.inChamber.liquid),
		ChamberGas: quantity.Density(c.inChamber.gas),
	}
	return c.balance.Check()
}

// observe fills the state from the readings, and from the data sheet where
// there is none.
func (m *Model) observe(in *Snapshot, s *state) {
	s.composition = 1
	s.read.pressure, s.read.temperature, s.read.chamber = sound(&in.Pressure), sound(&in.Temperature), sound(&in.ChamberTemperature)
	if s.read.pressure {
		s.pressure = in.Pressure.Value
		s.uPressure = m.u.pressure(s.pressure)
	} else {
		s.pressure = float64(m.sheet.OperatingPressure)
		s.uPressure = assumedPressure * s.pressure
		s.assumed = true
	}
	if s.read.temperature {
		s.vessel, s.uVessel = in.Temperature.Value, m.u.vesselTemperature
	} else {
		s.vessel, s.uVessel = float64(m.sheet.OperatingTemp), assumedTemperature
		s.assumed = s.assumed || !m.boils
	}
	if m.saturates {
		m.saturate(s)
	}
	if s.read.chamber {
		s.chamber, s.uChamber = in.ChamberTemperature.Value, m.u.chamberMeasured
	} else {
		s.derived = true
		s.chamber = s.vessel - m.cooling
		s.uChamber = m.u.chamberDerived(s.chamber)
	}
	if s.boiling > 0 && s.chamber > s.boiling {
		if s.read.chamber {
			s.superheat = max(s.superheat, s.chamber-s.boiling)
		}
		s.chamber = s.boiling
	}
	if m.measured != nil && sound(&in.Density) {
		s.density, s.uDensity = in.Density.Value, m.u.density
	}
}

// fill finds the densities of the state and how the float swims. The error
// says which fluid model refuses the state, or that the liquid is not heavier
// than what is above it.
func (m *Model) fill(c *conditions) error {
	if err := m.liquids(c); err != nil {
		return err
	}
	c.permittivity = 1
	if err := m.uppers(c); err != nil {
		return err
	}
	return m.derive(c)
}

// derive finds what follows from densities and permittivity.
func (m *Model) derive(c *conditions) error {
	c.uLiquid = c.inChamber.u()
	m.launch(c)
	for i, t := range [...]*transmitter{m.first, m.second} {
		if t != nil && t.spec.Principle == datasheet.Radar {
			c.pulse[i] = m.travel(t, c.permittivity)
		}
	}
	return m.join(c)
}

// liquids finds the density of the liquid in chamber and vessel.
func (m *Model) liquids(c *conditions) error {
	in, out := &c.inChamber, &c.inVessel
	var slopeIn, slopeOut float64
	if m.measured != nil {
		m.densitometer(c, &slopeIn)
	} else {
		var err error
		if in.liquid, slopeIn, err = m.density(c, c.chamber); err != nil {
			return err
		}
		out.liquid, slopeOut = in.liquid, slopeIn
		if c.vessel != c.chamber {
			if out.liquid, slopeOut, err = m.density(c, c.vessel); err != nil {
				return err
			}
		}
		in.byModel, out.byModel = m.u.liquid*in.liquid, m.u.liquid*out.liquid
	}
	in.liquid *= c.composition
	out.liquid *= c.composition
	in.byChamber = slopeIn * c.uChamber
	out.byVessel = slopeOut * c.uVessel
	if c.derived {
		in.byVessel = slopeIn * c.uVessel
	}
	return nil
}

// densitometer takes the measured density as that of the vessel's liquid and
// carries it to the chamber's temperature with the expansion of the data
// sheet. Without a reading the data sheet stands in, as uncertain as its range
// in service is wide.
func (m *Model) densitometer(c *conditions, slopeIn *float64) {
	vessel, chamber := quantity.Temperature(c.vessel), quantity.Temperature(c.chamber)
	measured, u := quantity.Density(c.density), c.uDensity
	if measured == 0 {
		measured, u = m.designDensity, m.u.designDensity
		if rho, err := m.measured.Density(vessel, quantity.Pressure(c.pressure)); err == nil {
			measured = rho
		}
		c.assumed = true
	}
	c.inVessel.liquid = float64(measured)
	c.inChamber.liquid = float64(m.measured.From(measured, vessel, chamber))
	c.inVessel.byModel, c.inChamber.byModel = u, u
	*slopeIn = -m.sheet.Fluid.Expansion * c.inChamber.liquid
}

// density returns the density of the gauge's liquid at a temperature, and its
// slope with temperature.
func (m *Model) density(c *conditions, t float64) (float64, float64, error) {
	if m.saturates {
		rho, slope, err := c.water.Liquid(quantity.Temperature(t))
		return float64(rho), slope, err
	}
	rho, slope, err := m.slope.DensitySlope(quantity.Temperature(t), quantity.Pressure(c.pressure))
	return float64(rho), slope, err
}

// uppers finds the fluid above the liquid in both columns.
func (m *Model) uppers(c *conditions) error {
	switch {
	case m.upper != nil:
		return m.lighter(c)
	case m.vapour == nil:
		return nil
	}
	var err error
	if m.saturates {
		err = m.ownSteam(c)
	} else {
		err = m.gas(c)
	}
	c.uGas = m.gasUncertainty(c)
	c.inChamber.byGas, c.inVessel.byGas = c.uGas*c.inChamber.gas, c.uGas*c.inVessel.gas
	return err
}

// lighter finds the lighter liquid of an interface.
func (m *Model) lighter(c *conditions) error {
	p := quantity.Pressure(c.pressure)
	in, slope, err := m.upslope.DensitySlope(quantity.Temperature(c.chamber), p)
	if err != nil {
		return err
	}
	out, err := m.upper.Density(quantity.Temperature(c.vessel), p)
	if err != nil {
		return err
	}
	share := cmp.Or(c.above, 1)
	c.inChamber.gas, c.inVessel.gas = share*float64(in), share*float64(out)
	c.inChamber.byGas = math.Hypot(m.u.upper*c.inChamber.gas, slope*c.uChamber)
	c.inVessel.byGas = c.inChamber.byGas
	return nil
}

// gas finds what the gas model of the data sheet gives.
func (m *Model) gas(c *conditions) error {
	p := quantity.Pressure(c.pressure)
	if !(p > 0) {
		return &fluid.RangeError{Model: "gas above the liquid", Quantity: "absolute pressure", Value: p.Bar(), Low: 0, High: 500, Unit: "bar(a)",
			Remedy: "there is no vacuum above a liquid; check the pressure transmitter and whether its range is gauge or absolute"}
	}
	in, err := m.vapour.Density(quantity.Temperature(c.chamber), p)
	if err != nil {
		return err
	}
	out := in
	if c.vessel != c.chamber {
		if out, err = m.vapour.Density(quantity.Temperature(c.vessel), p); err != nil {
			return err
		}
	}
	c.inChamber.gas, c.inVessel.gas = float64(in), float64(out)
	if m.radar {
		c.permittivity, err = m.vapour.Permittivity(quantity.Temperature(c.chamber), p)
	}
	return err
}

// ownSteam finds the steam over its own water. Over boiling or colder water it
// is saturated in both columns.
func (m *Model) ownSteam(c *conditions) error {
	t, in, err := c.water.Steam(quantity.Temperature(c.chamber))
	if err != nil {
		return err
	}
	out := in
	if max(c.chamber, c.vessel) > c.boiling {
		if _, out, err = c.water.Steam(quantity.Temperature(c.vessel)); err != nil {
			return err
		}
	}
	c.inChamber.gas, c.inVessel.gas = float64(in), float64(out)
	if m.radar {
		c.permittivity, err = c.water.Permittivity(t, in)
	}
	return err
}

// gasUncertainty is the relative standard uncertainty of a gas density: the
// model's own with that of pressure and temperature, as for an ideal gas.
func (m *Model) gasUncertainty(c *conditions) float64 {
	r := math.Hypot(gasModel, c.uPressure/c.pressure)
	if m.steam {
		return r
	}
	return math.Hypot(r, c.uChamber/c.chamber)
}
