package gauge

import (
	"fmt"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// lowReserve is the ratio of buoyancy to weight below which a float is called
// near sinking: a fifth of lift left. Common practice, no source.
const lowReserve = 1.2

// impossibleSuperheat is how far above boiling a liquid may be measured before
// one of the two instruments is doubted. Common practice, no source.
const impossibleSuperheat = 5 // K

// outside compares the live conditions with the data sheet. What it says of
// the same conditions is always the same.
func (m *Model) outside(c *conditions, out *Measurement) {
	s := &m.sheet
	if c.superheat > impossibleSuperheat {
		out.limit("pressure against temperature", "The liquid is measured %.1f K above boiling at %.2f bar absolute, which cannot last: pressure or temperature is wrong.", c.superheat, out.PressureUsed.Bar())
	}
	m.outsidePressure(out.PressureUsed, out)
	if s.MaxTemperature > 0 && out.TemperatureUsed > s.MaxTemperature {
		out.limit("temperature", "Temperature is %.1f °C, the data sheet allows %.1f °C.", out.TemperatureUsed.Celsius(), s.MaxTemperature.Celsius())
	}
	if !out.DensityOK {
		return
	}
	if s.SGMin > 0 && s.SGMax > s.SGMin {
		m.outsideGravity(out)
	}
	if m.float != nil {
		m.outsideFloat(&c.float, out)
	}
}

// lowShare is how much of a float between two liquids must at least be in
// either. Common practice, no source.
const lowShare = 0.1

func (m *Model) outsideFloat(f *afloat, out *Measurement) {
	if m.upper == nil {
		if out.FloatReserve < lowReserve {
			out.limit("float reserve", "The liquid of %.0f kg/m³ lifts the float with %.2f times its weight; below %.0f kg/m³ it sinks.",
				float64(out.Liquid), out.FloatReserve, float64(f.warm.SinkingDensity()))
		}
		return
	}
	if share := f.warm.Share(out.Liquid, out.Gas); share < lowShare || share > 1-lowShare {
		out.limit("float reserve", "Between %.0f and %.0f kg/m³ the float of %.0f kg/m³ is %.0f %% in the heavier liquid; beyond 0 and 100 %% it leaves the interface.",
			float64(out.Liquid), float64(out.Gas), float64(f.warm.SinkingDensity()), 100*share)
	}
}

func (m *Model) outsidePressure(p quantity.Pressure, out *Measurement) {
	s := &m.sheet
	if s.MaxPressure > 0 && p > s.MaxPressure {
		out.limit("pressure", "Pressure is %.2f bar absolute, the data sheet allows %.2f bar absolute.", p.Bar(), s.MaxPressure.Bar())
	}
	if s.Float.MaxPressure > 0 && p > s.Float.MaxPressure {
		out.limit("float pressure", "Pressure is %.2f bar absolute, the float's maker allows %.2f bar absolute; a collapsed float sinks.", p.Bar(), s.Float.MaxPressure.Bar())
	}
}

// outsideGravity allows the range in service and, on both sides, twice the
// uncertainty of the live density.
func (m *Model) outsideGravity(out *Measurement) {
	low, high := m.sheet.ServiceRange()
	if out.Liquid >= low-2*out.LiquidU && out.Liquid <= high+2*out.LiquidU {
		return
	}
	out.limit("specific gravity", "Specific gravity in the chamber is %.3f, the data sheet gives %.3f to %.3f.",
		float64(out.Liquid/datasheet.WaterReferenceDensity), m.sheet.SGMin, m.sheet.SGMax)
}

func (m *Model) outsideRadar(t *transmitter, l *level.Level, out *Measurement) {
	if l.Reason == quantity.BlindZone && l.Bound == level.None && t != nil && t.spec.Principle == datasheet.Radar {
		out.limit("radar blind zone", "The surface is in a dead zone of the radar %s; it cannot be measured there.", t.spec.Tag)
	}
}

// limit books one condition.
func (out *Measurement) limit(what, format string, args ...any) {
	out.OutsideDataSheet = append(out.OutsideDataSheet, Limit{What: what, Sentence: fmt.Sprintf(format, args...)})
}
