// Package buoyancy is the hydrostatics of the float: how deep it swims in the
// liquid of the chamber, how that changes with density and mass, and when it
// no longer swims.
//
// Symbols, all SI:
//
//	m     mass of the float, magnet included               kg
//	V(z)  volume of the float below the height z above
//	      its lowest point                                 m3
//	Vt    volume of the whole float                        m3
//	A     cross-section of its cylindrical part            m2
//	ρL    density of the liquid                            kg/m3
//	ρV    density of the gas, or of the lighter liquid     kg/m3
//
// The one equation is Archimedes' principle for an upright float that touches
// nothing and is wetted by two fluids:
//
//	ρL V(z) + ρV (Vt − V(z)) = m                           (1)
//
// It is exact for a rigid float at rest. Surface tension, the weight of a
// liquid film and friction on the chamber wall are not in it; Friction gives
// what a friction force would do. Heads are treated as sharp shells of the
// stated outline; the wall thickness is part of the mass only.
//
// Outside its range the package returns *SunkError, *AloftError or
// *StratificationError, never a clamped depth.
package buoyancy

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// Float is a cylinder closed by two equal heads. Make one with New; it is
// immutable and safe for concurrent use.
type Float struct {
	mass     float64
	cylinder float64 // length of the cylindrical part
	head     dish
	area     float64
	volume   float64
}

// New makes a Float of mass, outer diameter and whole length, heads included.
func New(mass quantity.Mass, diameter, length quantity.Length, head Head) (*Float, error) {
	if !(mass > 0) || !(diameter > 0) || !(length > 0) {
		return nil, fmt.Errorf("buoyancy: float of %g kg, diameter %g m, length %g m: all three must be positive; take them from the float's drawing",
			float64(mass), float64(diameter), float64(length))
	}
	d := newDish(head, float64(diameter)/2)
	cylinder := float64(length) - 2*d.height
	if cylinder < -1e-12*float64(length) {
		return nil, fmt.Errorf("buoyancy: float of length %g m is shorter than its two %v ends of %g m; check length and diameter",
			float64(length), head, 2*d.height)
	}
	f := &Float{mass: float64(mass), cylinder: math.Max(0, cylinder), head: d, area: math.Pi * d.r * d.r}
	f.volume = 2*d.volume + f.area*f.cylinder
	return f, nil
}

// Heavier returns the same float with a mass added (a leak, a deposit) or
// taken away. It returns an error when nothing is left.
func (f *Float) Heavier(by quantity.Mass) (*Float, error) {
	g := *f
	g.mass += float64(by)
	if g.mass <= 0 {
		return nil, fmt.Errorf("buoyancy: %g kg added to a float of %g kg leaves no float", float64(by), f.mass)
	}
	return &g, nil
}

// Mass returns the mass of the float.
func (f *Float) Mass() quantity.Mass { return quantity.Mass(f.mass) }

// Volume returns the volume of the whole float in m3.
func (f *Float) Volume() float64 { return f.volume }

// Area returns the cross-section of the cylindrical part in m2.
func (f *Float) Area() float64 { return f.area }

// Height returns the whole length of the float.
func (f *Float) Height() quantity.Length { return quantity.Length(2*f.head.height + f.cylinder) }

// HeadHeight returns the height of one head.
func (f *Float) HeadHeight() quantity.Length { return quantity.Length(f.head.height) }

// HeadVolume returns the volume of one head in m3.
func (f *Float) HeadVolume() float64 { return f.head.volume }

// VolumeBelow returns V(z), the volume in m3 of the float below the height z
// above its lowest point. Below the float it is 0, above it the whole volume.
func (f *Float) VolumeBelow(z quantity.Length) float64 {
	x, top := float64(z), float64(f.Height())
	switch {
	case x <= 0:
		return 0
	case x >= top:
		return f.volume
	case x < f.head.height:
		return f.head.below(x)
	case x <= f.head.height+f.cylinder:
		return f.head.volume + f.area*(x-f.head.height)
	}
	return f.volume - f.head.below(top-x)
}

// AreaAt returns the cross-section in m2 at the height z, the derivative of
// VolumeBelow. Outside the float it is 0.
func (f *Float) AreaAt(z quantity.Length) float64 {
	x, top := float64(z), float64(f.Height())
	switch {
	case x < 0 || x > top:
		return 0
	case x < f.head.height:
		return f.head.area(x)
	case x <= f.head.height+f.cylinder:
		return f.area
	}
	return f.head.area(top - x)
}

// DepthOf returns the height z with VolumeBelow(z) = v, the inverse of
// VolumeBelow for 0 <= v <= Volume. It is exact in the cylinder; in a head the
// root is bracketed and found to within a rounding error.
func (f *Float) DepthOf(v float64) (quantity.Length, bool) {
	switch {
	case !(v >= 0) || v > f.volume:
		return 0, false
	case v < f.head.volume:
		return quantity.Length(f.head.depth(v)), true
	case v <= f.head.volume+f.area*f.cylinder:
		return quantity.Length(f.head.height + (v-f.head.volume)/f.area), true
	}
	return f.Height() - quantity.Length(f.head.depth(f.volume-v)), true
}

// depth inverts below by Newton's method kept inside a bisection bracket.
// below is strictly increasing, so the bracket [0, height] always holds the
// root.
func (d *dish) depth(v float64) float64 {
	lo, hi := 0.0, d.height
	z := d.height * math.Sqrt(v/d.volume)
	for range 200 {
		e := d.below(z) - v
		if e > 0 {
			hi = z
		} else {
			lo = z
		}
		next := z - e/d.area(z)
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-z) <= 1e-16*d.height {
			return next
		}
		z = next
	}
	return z
}
