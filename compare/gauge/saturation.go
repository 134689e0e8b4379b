package gauge

import (
	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// boilingWithin is how close to boiling the data sheet must put the vessel for
// its liquid to be taken as boiling at the live pressure when no temperature is
// measured. Common practice, no source.
const boilingWithin = 15 // K

// saturate keeps water under its own steam no hotter than boiling. Where the
// vessel boils and no temperature is measured, pressure alone gives it.
func (m *Model) saturate(s *state, measured bool) {
	boiling, ok := boilingPoint(s.pressure)
	if !ok {
		return
	}
	s.boiling = boiling
	if s.vessel < boiling && (measured || !m.boils) {
		return
	}
	if measured {
		s.superheat = s.vessel - boiling
	}
	s.vessel = boiling
	const step = 1e-3 // relative
	if near, ok := boilingPoint(s.pressure * (1 - step)); ok {
		s.uVessel = (boiling - near) / (step * s.pressure) * s.uPressure
	}
}

// boilingPoint is the saturation temperature in kelvins, where there is one.
func boilingPoint(p float64) (float64, bool) {
	t, err := water.SaturationTemperature(quantity.Pressure(p))
	return float64(t), err == nil
}

// boilsByDesign reports whether the data sheet describes a boiling vessel.
func (m *Model) boilsByDesign() bool {
	if !m.saturates {
		return false
	}
	t, ok := boilingPoint(float64(m.sheet.OperatingPressure))
	return m.sheet.OperatingTemp == 0 || (ok && float64(m.sheet.OperatingTemp) > t-boilingWithin)
}
