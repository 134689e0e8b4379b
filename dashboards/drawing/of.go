package drawing

import (
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/units"
)

// Of returns the scene of a gauge as it was compared last. A gauge nobody sees
// is drawn stale.
func Of(g plant.GaugeView, now time.Time, set units.Set) Scene {
	return Scene{
		Sheet: g.Sheet, Result: g.Result, Stale: g.Category(now) == compare.NotSeenCategory, Now: now, Units: set,
		Float: swimming(g.Sheet, &g.Result.Measurement),
	}
}

// swimming places the float: the follower reads the surface for the density it
// was built for, so the bottom of the float is its indication less the
// immersion at that density.
func swimming(sheet *datasheet.Sheet, m *gauge.Measurement) *Float {
	if !m.MagnetOK || !m.DensityOK {
		return nil
	}
	now, built, ok := Immersions(sheet, m.Liquid, m.Gas)
	if !ok {
		return nil
	}
	return &Float{Bottom: m.Magnet - built, Immersion: now, BuiltFor: built}
}

// Immersions returns how deep the float swims now and how deep it was built to
// swim; ok is false when the data sheet does not say enough or it does not
// swim.
func Immersions(sheet *datasheet.Sheet, liquid, gas quantity.Density) (now, built quantity.Length, ok bool) {
	head, err := buoyancy.ParseHead(string(sheet.Float.EndShape))
	if err != nil {
		return 0, 0, false
	}
	f, err := buoyancy.New(sheet.Float.Mass, sheet.Float.Diameter, sheet.Float.Length, head)
	if err != nil {
		return 0, 0, false
	}
	built, swam := f.Swims(sheet.Float.BuiltFor, 0)
	now, swims := f.Swims(liquid, gas)
	return now, built, swam && swims
}
