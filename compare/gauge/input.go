package gauge

import (
	"fmt"
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/uncertainty"
)

// input describes one input: its value, unit, standard uncertainty, distribution
// and where they come from. All are type B and taken as exactly known, so that
// their degrees of freedom are infinite (JCGM 100:2008, G.4.3).
func (m *Model) input(i level.Input, part float64, c *conditions) uncertainty.Term {
	col := &c.inChamber
	switch i {
	case level.LiquidDensity:
		return uncertainty.Term{Symbol: "ρL", Value: col.liquid, Unit: "kg/m3", U: col.byModel, Source: m.liquid.Basis()}
	case level.VapourDensity:
		if m.upper != nil {
			return uncertainty.Term{Name: "lighter liquid density", Symbol: "ρV", Value: col.gas, Unit: "kg/m3", U: col.byGas, Source: m.upper.Basis()}
		}
		return uncertainty.Term{Symbol: "ρV", Value: col.gas, Unit: "kg/m3", U: col.byGas, Source: "gas model and pressure"}
	case level.VesselDensity:
		return uncertainty.Term{Symbol: "T", Value: quantity.Temperature(c.vessel).Celsius(), Unit: "°C", U: c.uVessel, Source: m.temperatureSource(c)}
	case level.ChamberTemperature:
		return uncertainty.Term{Symbol: "Tc", Value: quantity.Temperature(c.chamber).Celsius(), Unit: "°C", U: c.uChamber, Distribution: c.chamberShape(), Source: m.chamberSource(c)}
	case level.TapElevation:
		return uncertainty.Term{Symbol: "e", Unit: "mm", U: 1e3 * m.u.tap, Distribution: uncertainty.Rectangular, Source: m.source(m.sheet.Budget.TapElevation > 0)}
	case level.FloatMass:
		return uncertainty.Term{Symbol: "m", Value: 1e3 * float64(m.sheet.Float.Mass), Unit: "g", U: 1e3 * m.u.floatMass, Source: m.source(m.sheet.Budget.FloatMass > 0)}
	case level.Follower:
		return uncertainty.Term{Unit: "mm", U: 1e3 * m.u.follower, Distribution: uncertainty.Rectangular, Source: m.source(m.sheet.Budget.Follower > 0)}
	case level.LegDensity:
		if m.first != nil {
			return uncertainty.Term{Symbol: "ρr", Value: float64(m.first.spec.LegDensity), Unit: "kg/m3", U: m.first.uLeg, Source: legSource(&m.first.spec)}
		}
	case level.GasPermittivity:
		return uncertainty.Term{Symbol: "ε", Value: c.permittivity, Unit: "1", U: (c.permittivity - 1) * c.uGas, Source: "gas density"}
	case level.TransmitterDevice:
		return m.device(m.first, part)
	case level.SecondDevice:
		return m.device(m.second, part)
	case level.DisplacerDevice:
		return own(part, uncertainty.Normal, "common practice: mass and cross-section within 0.1 %")
	case level.VesselDevice:
		stated := m.sheet.Vessel != nil && m.sheet.Vessel.U > 0
		return own(part, limits(stated), m.source(stated))
	case level.InputElectronics, level.TransmitterInput:
		return own(part, uncertainty.Rectangular, m.source(false))
	case level.Skew:
		return own(part, uncertainty.Normal, "velocity of the level and times of the readings")
	}
	return own(part, uncertainty.Normal, "")
}

// device is a transmitter's own accuracy.
func (m *Model) device(t *transmitter, part float64) uncertainty.Term {
	stated := t != nil && (t.spec.U > 0 || t.spec.UPressure > 0)
	return own(part, limits(stated), m.source(stated))
}

// own is an input that is a length of its own: it contributes what it is.
func own(part float64, shape uncertainty.Distribution, source string) uncertainty.Term {
	return uncertainty.Term{Unit: "mm", U: 1e3 * math.Abs(part), Distribution: shape, Source: source}
}

// limits is the shape of an accuracy: a standard uncertainty that was stated,
// or the limits the trade goes by.
func limits(stated bool) uncertainty.Distribution {
	if stated {
		return uncertainty.Normal
	}
	return uncertainty.Rectangular
}

// legSource says what the density of a leg is uncertain by.
func legSource(t *datasheet.Transmitter) string {
	if t.LegExpansion > 0 {
		return fmt.Sprintf("common practice: leg known to %.0f K", legTemperature)
	}
	return fmt.Sprintf("common practice: %.1f %%, expansion of the fill not given", 100*legUnexpanded)
}

// chamberShape is what is known of the chamber's temperature: a thermometer's
// reading, or limits.
func (c *conditions) chamberShape() uncertainty.Distribution {
	if c.derived {
		return uncertainty.Rectangular
	}
	return uncertainty.Normal
}

func (m *Model) source(stated bool) string {
	if stated {
		return "data sheet"
	}
	return "common practice"
}

func (m *Model) temperatureSource(c *conditions) string {
	switch {
	case c.boiling > 0 && c.vessel == c.boiling:
		return "boiling at the pressure"
	case c.read.temperature && m.sheet.Temperature != nil:
		return m.sheet.Temperature.Tag
	}
	return "operating temperature of the data sheet"
}

func (m *Model) chamberSource(c *conditions) string {
	switch {
	case c.boiling > 0 && c.chamber == c.boiling && c.superheat > 0:
		return "boiling at the pressure"
	case c.read.chamber && m.sheet.ChamberTemperature != nil:
		return m.sheet.ChamberTemperature.Tag
	case m.cooling != 0:
		return fmt.Sprintf("vessel less %.0f K of the data sheet", m.cooling)
	}
	return "as the vessel"
}

func (m *Model) pressureSource(c *conditions) string {
	if c.read.pressure && m.sheet.Pressure != nil {
		return m.sheet.Pressure.Tag
	}
	return "operating pressure of the data sheet"
}
