package scenario

import (
	"math"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// world is the vessel, the chamber and their surroundings.
type world struct {
	sheet   *datasheet.Sheet
	model   *gauge.Model
	process Process
	mover   mover
	weather weather
	events  happening
	pipe    standpipe
	truth   gauge.Truth
	vessel  float64 // level, metres above the lower tap

	random   source
	outside  source
	pressure wander
	warmth   wander
	chill    float64 // kelvin, chamber below vessel now
	settled  bool
}

func newWorld(sheet *datasheet.Sheet, o Options, character *source) (*world, error) {
	model, err := gauge.New(*sheet)
	if err != nil {
		return nil, err
	}
	w := &world{
		sheet: sheet, model: model, process: o.Process,
		random: newSource(o.Seed, streamProcess), outside: newSource(o.Seed, streamService),
	}
	w.mover = newMover(o.Process, float64(sheet.Chamber.CentreToCentre), &w.random)
	w.weather = newWeather(o.Service, &w.outside)
	w.events = newHappening(o.Service.Events, o.Seed)
	w.pressure.value, w.warmth.value = w.random.normal(), w.random.normal()
	w.chill = w.usualChill()
	w.vessel = w.mover.step(0, &w.random)
	return w, w.settle(nil)
}

// usualChill is how much colder than the vessel the chamber usually is.
func (w *world) usualChill() float64 {
	if c := w.sheet.Chamber.Cooling; c != nil {
		return float64(*c)
	}
	return 0
}

// step advances vessel, weather and chamber by dt seconds.
func (w *world) step(dt float64, faults []active) error {
	w.mover.restless = w.events.restless
	w.vessel = w.mover.step(dt, &w.random)
	w.events.step(dt, w.vessel, float64(w.sheet.Chamber.CentreToCentre))
	w.vessel += w.events.shift
	w.weather.step(dt, &w.outside)
	w.pressure.step(&w.random, dt, w.process.PressureTime.Seconds())
	w.warmth.step(&w.random, dt, (6 * time.Hour).Seconds())
	goal := w.usualChill() + w.weather.cold()*w.exposure()
	w.chill += (goal - w.chill) * -math.Expm1(-dt/600)
	if err := w.settle(faults); err != nil {
		return err
	}
	s := w.feel(faults)
	w.pipe.step(dt, s)
	w.truth.ChamberLevel = quantity.Length(w.pipe.level)
	return nil
}

// variety is the share of the changes of composition that reaches a liquid:
// what is known to be water is water, and the brine under oil varies less than
// a product.
func variety(f *datasheet.Fluid) float64 {
	switch {
	case f.Model == datasheet.Water:
		return 0
	case f.Upper != nil:
		return 0.3
	}
	return 1
}

// boils reports whether the liquid is water under its own steam.
func (w *world) boils() bool {
	return w.sheet.Fluid.Model == datasheet.Water && w.sheet.Fluid.Vapour.Model == datasheet.Steam
}

// exposure is how much of the weather reaches the chamber.
func (w *world) exposure() float64 {
	if w.sheet.Chamber.Insulation == "bare" || w.sheet.Chamber.Insulation == "" {
		return 1
	}
	return 0.3
}

// settle fills the truth with everything but the chamber's level.
func (w *world) settle(faults []active) error {
	t := &w.truth
	t.VesselLevel = quantity.Length(w.vessel)
	t.Pressure = w.sheet.OperatingPressure * quantity.Pressure(1+w.process.PressureSwing*clip(w.pressure.value))
	t.Temperature = w.sheet.OperatingTemp
	if !w.boils() { // what boils has the temperature its pressure gives it
		t.Temperature += quantity.Temperature(w.process.TemperatureSwing*clip(w.warmth.value) + w.weather.campaign)
	}
	t.ChamberTemperature = t.Temperature - quantity.Temperature(w.chill)
	t.Composition = 1 + variety(&w.sheet.Fluid)*(w.weather.density()-1)
	t.LegLost = 0
	for i := range faults {
		f := &faults[i]
		if !f.on {
			continue
		}
		switch f.fault.Kind {
		case DensityWrong:
			t.Composition *= 1 + f.size
		case LegEmpty:
			t.LegLost = 1
		case LegPartlyFilled:
			if p := f.part.transmitter(w.sheet); p != nil && p.Principle != datasheet.DPDry {
				t.LegLost = math.Max(t.LegLost, f.size)
			}
		}
	}
	before := t.ChamberLevel
	if err := w.model.Settle(t); err != nil {
		return err
	}
	if !w.settled {
		w.pipe.level, w.settled = float64(t.ChamberLevel), true
	} else {
		w.pipe.level = float64(before)
	}
	return nil
}

// clip keeps a slow swing within three standard deviations, where fluid models
// still hold.
func clip(v float64) float64 { return math.Min(math.Max(v, -3), 3) }

// feel collects what the standpipe feels; the truth's chamber level is the one
// that would balance.
func (w *world) feel(faults []active) surroundings {
	s := surroundings{
		balance: float64(w.truth.ChamberLevel), pressure: float64(w.truth.Pressure), temperature: float64(w.truth.ChamberTemperature),
		lag: w.process.Lag.Seconds(), height: float64(w.sheet.Chamber.CentreToCentre + w.sheet.Chamber.AboveUpperTap),
		condenses: w.sheet.Fluid.Vapour.Model == datasheet.Steam,
	}
	if w.vessel > float64(w.sheet.Chamber.CentreToCentre) && w.sheet.Fluid.Upper == nil {
		s.spill = w.vessel
	}
	for i := range faults {
		f := &faults[i]
		if !f.on {
			continue
		}
		switch f.fault.Kind {
		case LowerPlugged:
			s.lag = math.Max(s.lag, f.size)
		case UpperPlugged:
			s.upperClosed = true
		case ChamberIsolated:
			s.lowerClosed = true
		}
	}
	if w.events.drained() {
		s.balance, s.spill, s.lag, s.upperClosed = -0.3*s.height, 0, 60, false
	}
	if s.upperClosed {
		if chamber, _, err := w.model.Columns(&w.truth); err == nil {
			s.density = float64(chamber.Liquid)
		}
	}
	return s
}
