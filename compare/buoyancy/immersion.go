package buoyancy

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// SunkError says that the float does not swim: the liquid is not heavier than
// the float's own mean density.
type SunkError struct {
	Liquid  quantity.Density // the liquid it was put in
	Sinking quantity.Density // the lowest density it swims in, m/Vt
}

func (e *SunkError) Error() string {
	return fmt.Sprintf("buoyancy: float sinks: liquid %.4g kg/m3 is not heavier than the float's mean density %.4g kg/m3; it needs a lighter or larger float",
		float64(e.Liquid), float64(e.Sinking))
}

// AloftError says that the upper fluid alone carries the float: it does not
// touch the surface or interface it is meant to follow.
type AloftError struct {
	Upper quantity.Density
	Mean  quantity.Density // of the float, m/Vt
}

func (e *AloftError) Error() string {
	return fmt.Sprintf("buoyancy: float rises in the upper fluid: %.4g kg/m3 is not lighter than the float's mean density %.4g kg/m3; it needs a heavier float",
		float64(e.Upper), float64(e.Mean))
}

// StratificationError says that the lower fluid is not heavier than the upper
// one, so there is no surface to swim on.
type StratificationError struct{ Lower, Upper quantity.Density }

func (e *StratificationError) Error() string {
	return fmt.Sprintf("buoyancy: lower fluid %.4g kg/m3 is not heavier than the upper fluid %.4g kg/m3; check both densities",
		float64(e.Lower), float64(e.Upper))
}

// SinkingDensity returns m/Vt, the liquid density at and below which the float
// sinks. The gas above does not change it.
func (f *Float) SinkingDensity() quantity.Density { return quantity.Density(f.mass / f.volume) }

// Immersion returns the depth z of the float's lowest point below the surface
// between a lower and an upper fluid, from equation (1). The upper fluid is
// the gas, or for interface service the lighter liquid that covers the float.
// It fails with *StratificationError, *SunkError or *AloftError.
func (f *Float) Immersion(lower, upper quantity.Density) (quantity.Length, error) {
	if z, ok := f.Swims(lower, upper); ok {
		return z, nil
	}
	return 0, refusal(lower, upper, f.SinkingDensity())
}

// refusal says why a float of a mean density does not swim.
func refusal(lower, upper, mean quantity.Density) error {
	switch {
	case !(lower > upper) || upper < 0:
		return &StratificationError{lower, upper}
	case !(lower > mean):
		return &SunkError{lower, mean}
	}
	return &AloftError{upper, mean}
}

// Swims is Immersion for a hot path: it says whether the float swims without
// saying why not, and never allocates.
func (f *Float) Swims(lower, upper quantity.Density) (quantity.Length, bool) {
	if !(lower > upper) || upper < 0 {
		return 0, false
	}
	v := (f.mass - float64(upper)*f.volume) / float64(lower-upper)
	if v <= 0 || v >= f.volume {
		return 0, false
	}
	return f.DepthOf(v)
}

// Sensitivity holds the derivatives of the immersion z at one state.
type Sensitivity struct {
	PerMass  float64 // dz/dm, m per kg
	PerLower float64 // dz/dρL, m per kg/m3: negative, a lighter liquid lets the float deeper
	PerUpper float64 // dz/dρV, m per kg/m3: negative
}

// Sensitivity returns the derivatives of (1) at the immersion z:
//
//	dz/dm  =  1 / ((ρL − ρV) a)
//	dz/dρL = −V(z) / ((ρL − ρV) a)
//	dz/dρV = −(Vt − V(z)) / ((ρL − ρV) a)
//
// with a the cross-section at the surface.
func (f *Float) Sensitivity(z quantity.Length, lower, upper quantity.Density) Sensitivity {
	v := f.VolumeBelow(z)
	s := 1 / (float64(lower-upper) * f.AreaAt(z))
	return Sensitivity{PerMass: s, PerLower: -v * s, PerUpper: -(f.volume - v) * s}
}

// Reserve says how much a float has left before it sinks.
type Reserve struct {
	Ratio   float64       // ρL Vt / m; the float sinks at 1
	Mass    quantity.Mass // that may be added before it sinks
	Uplift  float64       // N, of the fully covered float
	Sinking quantity.Density
}

// Reserve returns what is left at the liquid density.
func (f *Float) Reserve(liquid quantity.Density) Reserve {
	spare := float64(liquid)*f.volume - f.mass
	return Reserve{
		Ratio:   float64(liquid) * f.volume / f.mass,
		Mass:    quantity.Mass(spare),
		Uplift:  spare * quantity.StandardGravity,
		Sinking: f.SinkingDensity(),
	}
}

// Share returns the part of the volume below the surface or interface,
// (m/Vt − ρ2)/(ρ1 − ρ2): 1 and more for a float that sinks, 0 and less for one
// that rises in the upper fluid. Between two liquids it says how far the float
// is from either.
func (f *Float) Share(lower, upper quantity.Density) float64 {
	return float64(f.SinkingDensity()-upper) / float64(lower-upper)
}

// Friction returns the position error a friction force in newtons can hold,
// the half width of the dead band before the float breaks free:
// e = F / ((ρL − ρV) g A). It holds while the surface stays in the
// cylindrical part.
func (f *Float) Friction(force float64, liquid, gas quantity.Density) quantity.Length {
	return quantity.Length(math.Abs(force) / (float64(liquid-gas) * quantity.StandardGravity * f.area))
}

// Layered returns the immersion below the interface of a float that reaches
// through a layer of the given thickness of lighter liquid into the gas:
//
//	ρ1 V(z) + ρ2 [V(z+t) − V(z)] + ρV [Vt − V(z+t)] = m
//
// The answer is negative when the float does not reach the interface (it swims
// in the layer). It fails like Immersion.
func (f *Float) Layered(lower, layer, gas quantity.Density, thickness quantity.Length) (quantity.Length, error) {
	mean := f.SinkingDensity()
	switch {
	case !(lower > layer && layer > gas) || gas < 0:
		return 0, &StratificationError{lower, max(layer, gas)}
	case !(thickness >= 0):
		return 0, fmt.Errorf("buoyancy: layer of thickness %g m; it must not be negative", float64(thickness))
	case !(lower > mean):
		return 0, &SunkError{lower, mean}
	case gas >= mean:
		return 0, &AloftError{gas, mean}
	}
	carried := func(z quantity.Length) float64 {
		v1, v2 := f.VolumeBelow(z), f.VolumeBelow(z+thickness)
		return float64(lower)*v1 + float64(layer)*(v2-v1) + float64(gas)*(f.volume-v2)
	}
	// carried grows from ρV·Vt at z = -thickness to ρ1·Vt at z = height.
	lo, hi := -thickness, f.Height()
	for range 200 {
		mid := (lo + hi) / 2
		if mid <= lo || mid >= hi {
			break
		}
		if carried(mid) < f.mass {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2, nil
}
