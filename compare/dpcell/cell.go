// Package dpcell is level by differential pressure: one cell with its high
// side on the lower tap and its low side on the upper tap, by impulse lines or
// remote seals.
//
// Symbols, all SI, elevations above the lower tap:
//
//	h        level                                          m
//	H        height of the upper tap                        m
//	zT       elevation of the cell, negative below the tap  m
//	ρl, ρv   liquid and gas in the measured column          kg/m3
//	ρh       filling of the line to the lower tap           kg/m3
//	ρr       filling of the line to the upper tap           kg/m3
//	g        gravity of the place, 9.80665 unless given      m/s2
//
// Adding the columns from the upper tap down both lines gives
//
//	dP = g [ρl h + ρv (H − h) − ρh zT − ρr (H − zT)]       (1)
//
// A dry leg has gas in the upper line (ρr = ρv); a wet leg or a pair of remote
// seals has the same fill in both (ρh = ρr), and then zT drops out. With the
// sides swapped, as is common on boiler drums, the cell reads −dP and falls
// with the level.
package dpcell

import (
	"cmp"
	"fmt"

	"bridlewatch/compare/quantity"
)

// Cell is a differential pressure cell with its lines.
type Cell struct {
	Span      quantity.Length  // H
	Elevation quantity.Length  // zT
	Impulse   quantity.Density // ρh
	Reference quantity.Density // ρr
	Swapped   bool             // the high side is on the upper tap
	Gravity   float64          // m/s2, of the place; 0: standard gravity
}

func (c *Cell) g() float64 { return cmp.Or(c.Gravity, quantity.StandardGravity) }

// Column is the fluid whose level is measured.
type Column struct {
	Liquid quantity.Density // ρl
	Gas    quantity.Density // ρv, or the lighter liquid of an interface
}

func (c Column) delta() float64 { return float64(c.Liquid - c.Gas) }

// lines is the part of (1) that the two lines make: ρh zT + ρr (H − zT).
func (c *Cell) lines() float64 {
	return float64(c.Impulse)*float64(c.Elevation) + float64(c.Reference)*float64(c.Span-c.Elevation)
}

func (c *Cell) sign() float64 {
	if c.Swapped {
		return -1
	}
	return 1
}

// Difference returns what the cell measures at level h, equation (1). It is
// linear in h and is not limited to the taps.
func (c *Cell) Difference(h quantity.Length, col Column) quantity.PressureDifference {
	head := float64(col.Liquid)*float64(h) + float64(col.Gas)*float64(c.Span-h) - c.lines()
	return quantity.PressureDifference(c.sign() * c.g() * head)
}

// Level returns the level at which the cell measures dp, the inverse of
// Difference. The result may lie beyond the taps; it is the caller who knows
// what that means. Liquid not heavier than gas is an error.
func (c *Cell) Level(dp quantity.PressureDifference, col Column) (quantity.Length, error) {
	h, ok := c.Solve(dp, col)
	if !ok {
		return 0, fmt.Errorf("dpcell: liquid %.4g kg/m3 is not heavier than the fluid above it, %.4g kg/m3; no level can be found from a pressure difference",
			float64(col.Liquid), float64(col.Gas))
	}
	return h, nil
}

// Solve is Level for a hot path: it never allocates and does not say why.
func (c *Cell) Solve(dp quantity.PressureDifference, col Column) (quantity.Length, bool) {
	if !(col.delta() > 0) {
		return 0, false
	}
	head := c.sign()*float64(dp)/c.g() + c.lines() - float64(col.Gas)*float64(c.Span)
	return quantity.Length(head / col.delta()), true
}

// Range returns the lower and upper range values of the transmitter for the
// levels low and high: what it measures there. With swapped sides the first is
// the larger.
func (c *Cell) Range(low, high quantity.Length, col Column) (lrv, urv quantity.PressureDifference) {
	return c.Difference(low, col), c.Difference(high, col)
}

// Sensitivity holds the derivatives of the level.
type Sensitivity struct {
	PerPressure  float64 // m per Pa
	PerLiquid    float64 // m per kg/m3
	PerGas       float64
	PerImpulse   float64
	PerReference float64
}

// Sensitivity returns the derivatives of the level at h:
//
//	dh/ddP = ±1/(g Δρ),  dh/dρl = −h/Δρ,  dh/dρv = −(H − h)/Δρ,
//	dh/dρh = zT/Δρ,      dh/dρr = (H − zT)/Δρ
func (c *Cell) Sensitivity(h quantity.Length, col Column) Sensitivity {
	d := 1 / col.delta()
	return Sensitivity{
		PerPressure:  c.sign() * d / c.g(),
		PerLiquid:    -float64(h) * d,
		PerGas:       -float64(c.Span-h) * d,
		PerImpulse:   float64(c.Elevation) * d,
		PerReference: float64(c.Span-c.Elevation) * d,
	}
}

// Expand returns the density of a fill at temperature t that has the density
// at its reference temperature and the thermal expansion per kelvin:
// ρ(t) = ρ0 / (1 + β (t − t0)).
func Expand(at0 quantity.Density, beta float64, t0, t quantity.Temperature) quantity.Density {
	return at0 / quantity.Density(1+beta*float64(t-t0))
}
