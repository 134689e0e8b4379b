package density

import (
	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/displacer"
	"bridlewatch/compare/dpcell"
	"bridlewatch/compare/quantity"
)

// Witness is one reading with the physics that made it.
type Witness struct {
	Name    string
	Reading float64 // SI unit of the reading
	U       float64 // its standard uncertainty
	expect  func(level, rho float64) (reading float64, ok bool)
}

// Radar is a level that does not depend on density, corrected for the gas.
func Radar(level, u quantity.Length) Witness {
	return Witness{"radar", float64(level), float64(u), func(h, _ float64) (float64, bool) { return h, true }}
}

// DP is the pressure difference of a cell.
func DP(cell dpcell.Cell, gas quantity.Density, dp, u quantity.PressureDifference) Witness {
	return Witness{"dp cell", float64(dp), float64(u), func(h, rho float64) (float64, bool) {
		column := dpcell.Column{Liquid: quantity.Density(rho), Gas: gas}
		return float64(cell.Difference(quantity.Length(h), column)), rho > float64(gas)
	}}
}

// Float is the indication of a float follower that was built for one density:
// surface - immersion + immersion in that density.
func Float(float *buoyancy.Float, builtFor, gas quantity.Density, indicated, u quantity.Length) Witness {
	built, swims := float.Swims(builtFor, gas)
	return Witness{"float", float64(indicated), float64(u), func(h, rho float64) (float64, bool) {
		z, ok := float.Swims(quantity.Density(rho), gas)
		return h - float64(z-built), ok && swims
	}}
}

// Displacer is the apparent weight of a displacer in newtons; bottom is the
// height of its lower end above the lower tap.
func Displacer(d displacer.Displacer, bottom quantity.Length, gas quantity.Density, weight, u float64) Witness {
	return Witness{"displacer", weight, u, func(h, rho float64) (float64, bool) {
		x := quantity.Length(h) - bottom
		return d.Weight(x, quantity.Density(rho), gas), rho > float64(gas)
	}}
}
