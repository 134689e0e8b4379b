// Package vessel is the hydrostatic balance between a vessel and the external
// chamber on its two taps.
//
// Symbols, all SI, heights above the lower tap:
//
//	hv, hc    level in the vessel and in the chamber            m
//	H         height of the upper tap                           m
//	ρl, ρv    liquid and gas in the vessel                      kg/m3
//	ρc, ρvc   liquid and gas in the chamber, mean of its column kg/m3
//
// Both columns join at the taps and nothing flows, so they weigh the same:
//
//	ρc hc + ρvc (H − hc) = ρl hv + ρv (H − hv)             (1)
//
// The balance of three columns in ISA conference papers on the density error
// of boiler drum level is (1) with the reference leg as a third column.
//
// (1) holds only while both levels are strictly between the taps. At or beyond
// a tap the chamber says only on which side the level is, and the answer is a
// level.Bound without a number. hv is the collapsed level; Swollen turns it
// into the level of a liquid with bubbles in it.
//
// For interface service with both taps covered, the lighter liquid takes the
// place of the gas in (1).
package vessel

import (
	"fmt"

	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// Balance is equation (1) for one set of densities.
type Balance struct {
	Span       quantity.Length // H, between the taps
	Vessel     quantity.Density
	VesselGas  quantity.Density
	Chamber    quantity.Density
	ChamberGas quantity.Density
}

// Check reports densities for which (1) has no solution.
func (b *Balance) Check() error {
	switch {
	case !(b.Span > 0):
		return fmt.Errorf("vessel: distance between the taps is %g m; it must be positive", float64(b.Span))
	case !(b.Vessel > b.VesselGas) || b.VesselGas < 0:
		return fmt.Errorf("vessel: liquid %.4g kg/m3 in the vessel is not heavier than the fluid above it, %.4g kg/m3", float64(b.Vessel), float64(b.VesselGas))
	case !(b.Chamber > b.ChamberGas) || b.ChamberGas < 0:
		return fmt.Errorf("vessel: liquid %.4g kg/m3 in the chamber is not heavier than the fluid above it, %.4g kg/m3", float64(b.Chamber), float64(b.ChamberGas))
	}
	return nil
}

// Factor returns dhc/dhv = (ρl − ρv)/(ρc − ρvc), below 1 for a chamber colder
// than its vessel.
func (b *Balance) Factor() float64 {
	return float64(b.Vessel-b.VesselGas) / float64(b.Chamber-b.ChamberGas)
}

// InChamber returns the chamber level hc that balances the vessel level hv.
func (b *Balance) InChamber(hv quantity.Length) (quantity.Length, level.Bound) {
	if at := Between(hv, b.Span); at != level.Within {
		return 0, at
	}
	return bounded(b.ChamberUnbounded(hv), b.Span)
}

// InVessel returns the vessel level hv that balances the chamber level hc.
func (b *Balance) InVessel(hc quantity.Length) (quantity.Length, level.Bound) {
	if at := Between(hc, b.Span); at != level.Within {
		return 0, at
	}
	return bounded(b.VesselUnbounded(hc), b.Span)
}

// ChamberUnbounded is InChamber without its limits: the straight line of (1)
// continued past the taps, where it means nothing physical. It serves solvers
// and drawings.
func (b *Balance) ChamberUnbounded(hv quantity.Length) quantity.Length {
	left := float64(hv)*float64(b.Vessel-b.VesselGas) + float64(b.Span)*float64(b.VesselGas-b.ChamberGas)
	return quantity.Length(left / float64(b.Chamber-b.ChamberGas))
}

// VesselUnbounded is InVessel without its limits.
func (b *Balance) VesselUnbounded(hc quantity.Length) quantity.Length {
	left := float64(hc)*float64(b.Chamber-b.ChamberGas) + float64(b.Span)*float64(b.ChamberGas-b.VesselGas)
	return quantity.Length(left / float64(b.Vessel-b.VesselGas))
}

// Between says where a level lies between taps a span apart. A level at a tap
// is beyond it: neither column can tell how far.
func Between(h, span quantity.Length) level.Bound {
	switch {
	case h != h:
		return level.None
	case h <= 0:
		return level.BelowLowerTap
	case h >= span:
		return level.AboveUpperTap
	}
	return level.Within
}

func bounded(h, span quantity.Length) (quantity.Length, level.Bound) {
	if at := Between(h, span); at != level.Within {
		return 0, at
	}
	return h, level.Within
}

// Sensitivity holds the derivatives of a level carried over the balance. The
// density derivatives are in m per kg/m3.
type Sensitivity struct {
	PerLevel      float64 // by the level it was carried from
	PerVessel     float64 // by ρl
	PerVesselGas  float64 // by ρv
	PerChamber    float64 // by ρc
	PerChamberGas float64 // by ρvc
}

// OfVessel returns the derivatives of hv at the pair of levels (hc, hv):
//
//	dhv/dhc = (ρc − ρvc)/(ρl − ρv),  dhv/dρc = hc/(ρl − ρv),  dhv/dρvc = (H − hc)/(ρl − ρv),
//	dhv/dρl = −hv/(ρl − ρv),         dhv/dρv = −(H − hv)/(ρl − ρv)
func (b *Balance) OfVessel(hc, hv quantity.Length) Sensitivity {
	d := 1 / float64(b.Vessel-b.VesselGas)
	return Sensitivity{
		PerLevel:      float64(b.Chamber-b.ChamberGas) * d,
		PerVessel:     -float64(hv) * d,
		PerVesselGas:  -float64(b.Span-hv) * d,
		PerChamber:    float64(hc) * d,
		PerChamberGas: float64(b.Span-hc) * d,
	}
}

// OfChamber returns the derivatives of hc at the pair of levels (hc, hv).
func (b *Balance) OfChamber(hc, hv quantity.Length) Sensitivity {
	d := 1 / float64(b.Chamber-b.ChamberGas)
	return Sensitivity{
		PerLevel:      float64(b.Vessel-b.VesselGas) * d,
		PerVessel:     float64(hv) * d,
		PerVesselGas:  float64(b.Span-hv) * d,
		PerChamber:    -float64(hc) * d,
		PerChamberGas: -float64(b.Span-hc) * d,
	}
}

// Swollen returns the level of a liquid with a mean volume fraction of gas in
// it whose collapsed level is hv: hv/(1 − fraction). The chamber, which holds
// no bubbles, always shows the collapsed level (times the balance). The
// fraction must lie in [0, 1).
func Swollen(hv quantity.Length, fraction float64) (quantity.Length, error) {
	if !(fraction >= 0 && fraction < 1) {
		return 0, fmt.Errorf("vessel: gas fraction %g in the liquid: it must be at least 0 and below 1", fraction)
	}
	return hv / quantity.Length(1-fraction), nil
}
