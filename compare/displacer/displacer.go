// Package displacer is level by the apparent weight of a displacer that hangs
// still in the liquid.
//
// Symbols, all SI:
//
//	m, a, L   mass, cross-section and length of the displacer  kg, m2, m
//	x         liquid above its lower end                       m
//	ρl, ρv    liquid, and gas or lighter liquid above it       kg/m3
//	F         apparent weight, the force on the hanger         N
//
//	F = m g − g a [ρl x + ρv (L − x)],  0 <= x <= L        (1)
//
// A device that computes a level itself knows one density ρ0 and neglects the
// gas; it reports x0 = (m − F/g)/(ρ0 a). From (1) follows
//
//	x = (ρ0 x0 − ρv L)/(ρl − ρv)                           (2)
package displacer

import (
	"cmp"
	"fmt"

	"bridlewatch/compare/quantity"
)

// Displacer is a vertical prism on a hanger.
type Displacer struct {
	Mass   quantity.Mass
	Area   float64 // m2
	Length quantity.Length

	Gravity float64 // m/s2, of the place; 0: standard gravity
}

func (d *Displacer) g() float64 { return cmp.Or(d.Gravity, quantity.StandardGravity) }

// Volume returns the volume in m3.
func (d *Displacer) Volume() float64 { return d.Area * float64(d.Length) }

// PartlyCoveredError says that the surface is not on the displacer, so that
// the weight says nothing more about it.
type PartlyCoveredError struct {
	Depth  quantity.Length // that the equation gives
	Length quantity.Length
}

func (e *PartlyCoveredError) Error() string {
	return fmt.Sprintf("displacer: liquid %.4g m above its lower end is not on the displacer (0 to %.4g m)", float64(e.Depth), float64(e.Length))
}

// Weight returns the apparent weight F in newtons with liquid x above the
// lower end, equation (1). Above and below the displacer it no longer changes.
func (d *Displacer) Weight(x quantity.Length, liquid, upper quantity.Density) float64 {
	x = min(max(x, 0), d.Length)
	lifted := d.Area * (float64(liquid)*float64(x) + float64(upper)*float64(d.Length-x))
	return d.g() * (float64(d.Mass) - lifted)
}

// Depth returns x from the apparent weight in newtons, the inverse of Weight.
// Outside 0..Length it fails with *PartlyCoveredError.
func (d *Displacer) Depth(weight float64, liquid, upper quantity.Density) (quantity.Length, error) {
	if !(liquid > upper) {
		return 0, fmt.Errorf("displacer: liquid %.4g kg/m3 is not heavier than the fluid above it, %.4g kg/m3", float64(liquid), float64(upper))
	}
	x := d.Solve(weight, liquid, upper)
	if x < 0 || x > d.Length {
		return 0, &PartlyCoveredError{x, d.Length}
	}
	return x, nil
}

// Solve is Depth without its limits and checks, for a hot path.
func (d *Displacer) Solve(weight float64, liquid, upper quantity.Density) quantity.Length {
	lifted := (float64(d.Mass) - weight/d.g()) / d.Area
	return quantity.Length((lifted - float64(upper)*float64(d.Length)) / float64(liquid-upper))
}

// Reported returns the depth x0 a device reports that was set for the density
// set and neglects the fluid above, when the true depth is x.
func (d *Displacer) Reported(x quantity.Length, set, liquid, upper quantity.Density) quantity.Length {
	return (x*quantity.Length(liquid) + (d.Length-x)*quantity.Length(upper)) / quantity.Length(set)
}

// Corrected returns the true depth from the depth such a device reports,
// equation (2), the inverse of Reported.
func (d *Displacer) Corrected(x0 quantity.Length, set, liquid, upper quantity.Density) quantity.Length {
	return (x0*quantity.Length(set) - d.Length*quantity.Length(upper)) / quantity.Length(liquid-upper)
}

// Sensitivity holds the derivatives of the depth.
type Sensitivity struct {
	PerMass   float64 // m per kg
	PerVolume float64 // m per relative change of the volume
	PerLiquid float64 // m per kg/m3
	PerUpper  float64
	PerForce  float64 // m per N
}

// Sensitivity returns the derivatives at depth x:
//
//	dx/dm = 1/(a Δρ),  dx/dlnV = −(ρl x + ρv (L − x))/Δρ,
//	dx/dρl = −x/Δρ,    dx/dρv = −(L − x)/Δρ,   dx/dF = −1/(g a Δρ)
//
// A displacer whose area is not known (zero) has no PerMass and PerForce.
func (d *Displacer) Sensitivity(x quantity.Length, liquid, upper quantity.Density) Sensitivity {
	delta := 1 / float64(liquid-upper)
	s := Sensitivity{
		PerVolume: -(float64(liquid)*float64(x) + float64(upper)*float64(d.Length-x)) * delta,
		PerLiquid: -float64(x) * delta,
		PerUpper:  -float64(d.Length-x) * delta,
	}
	if d.Area > 0 {
		s.PerMass = delta / d.Area
		s.PerForce = -delta / (d.g() * d.Area)
	}
	return s
}
