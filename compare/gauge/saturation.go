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
func (m *Model) saturate(s *state) {
	if p := quantity.Pressure(s.pressure); !s.water.Is(p) {
		s.water = water.At(p)
	}
	boiling, slope, ok := s.water.BoilingPoint()
	if !ok {
		return
	}
	s.boiling = float64(boiling)
	if s.vessel < s.boiling && (s.read.temperature || !m.boils) {
		return
	}
	if s.read.temperature {
		s.superheat = s.vessel - s.boiling
	}
	s.vessel = s.boiling
	s.uVessel = slope * s.uPressure
}

// boilingPoint is the saturation temperature in kelvins, where there is one.
func boilingPoint(p float64) (float64, bool) {
	t, err := water.SaturationTemperature(quantity.Pressure(p))
	return float64(t), err == nil
}

// Boils reports whether the data sheet describes a vessel of boiling water.
func (m *Model) Boils() bool { return m.boils }

// boilsByDesign reports whether the data sheet describes a boiling vessel.
func (m *Model) boilsByDesign() bool {
	if !m.saturates {
		return false
	}
	t, ok := boilingPoint(float64(m.sheet.OperatingPressure))
	return m.sheet.OperatingTemp == 0 || (ok && float64(m.sheet.OperatingTemp) > t-boilingWithin)
}
