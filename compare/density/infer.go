package density

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// Estimate is a level and density found together.
type Estimate struct {
	Level       quantity.Length
	Density     quantity.Density
	ULevel      quantity.Length
	UDensity    quantity.Density
	Correlation float64 // of level and density
}

// NotIdentifiableError says that the readings do not determine the density.
type NotIdentifiableError struct {
	Reason string
	U      quantity.Density // standard uncertainty it would have; +Inf where there is none
	Limit  quantity.Density // largest that is of use
}

func (e *NotIdentifiableError) Error() string {
	if math.IsInf(float64(e.U), 1) {
		return "the density cannot be told from these instruments: " + e.Reason
	}
	return fmt.Sprintf("the density cannot be told from these instruments: %s; its standard uncertainty would be %.3g kg/m3, of use is up to %.3g kg/m3",
		e.Reason, float64(e.U), float64(e.Limit))
}

// Start is where the search begins: the level and density assumed so far.
type Start struct {
	Level   quantity.Length
	Density quantity.Density
	// UDensity is the standard uncertainty of the density assumed so far. A
	// result less certain than this tells nothing new and is refused.
	UDensity quantity.Density
}

// A density further than this from the start is no density but a broken
// instrument.
const (
	lightestShare = 0.3
	heaviestShare = 3.0
	heaviest      = 3000.0 // kg/m3
)

const passes = 40 // of Newton's method

// Infer finds level and density from two readings of one instant, by Newton's
// method. The error is a *NotIdentifiableError.
func Infer(a, b Witness, start Start) (Estimate, error) {
	h, rho := float64(start.Level), float64(start.Density)
	var j jacobian
	for range passes {
		var ok bool
		if j, ok = derive(a, b, h, rho); !ok {
			return Estimate{}, unknown("at the assumed density an instrument gives no reading, for example because the float is sunk")
		}
		if j.singular(a, b, h, rho) {
			return Estimate{}, unknown(fmt.Sprintf("%s and %s depend on level and density in the same way here", a.Name, b.Name))
		}
		dh, drho := j.solve(a.Reading-j.a, b.Reading-j.b)
		limit := 0.2 * rho // a step this large leaves what is linear
		damping := math.Min(1, limit/math.Abs(drho))
		h, rho = h+damping*dh, rho+damping*drho
		if !(rho > lightestShare*float64(start.Density) && rho < math.Min(heaviest, heaviestShare*float64(start.Density))) {
			return Estimate{}, unknown(fmt.Sprintf("%s and %s would agree only at an impossible density: one of them is wrong", a.Name, b.Name))
		}
		if math.Abs(dh) < 1e-9 && math.Abs(drho) < 1e-6 {
			return j.estimate(a, b, h, rho, start)
		}
	}
	return Estimate{}, unknown("no level and density agree with both readings")
}

func unknown(reason string) error {
	return &NotIdentifiableError{Reason: reason, U: quantity.Density(math.Inf(1))}
}

// jacobian holds the expected readings and their derivatives.
type jacobian struct {
	a, b           float64
	ah, ar, bh, br float64
}

func derive(a, b Witness, h, rho float64) (j jacobian, ok bool) {
	const dh, dr = 1e-5, 1e-5 // m, relative
	var good [10]bool
	step := dr * rho
	j.a, good[0] = a.expect(h, rho)
	j.b, good[1] = b.expect(h, rho)
	j.ah, good[2], good[3] = slope(a, h, rho, dh, 0)
	j.ar, good[4], good[5] = slope(a, h, rho, 0, step)
	j.bh, good[6], good[7] = slope(b, h, rho, dh, 0)
	j.br, good[8], good[9] = slope(b, h, rho, 0, step)
	for _, g := range good {
		if !g {
			return j, false
		}
	}
	return j, true
}

// slope is the central difference along one of the two directions.
func slope(w Witness, h, rho, dh, dr float64) (d float64, up, down bool) {
	above, up := w.expect(h+dh, rho+dr)
	below, down := w.expect(h-dh, rho-dr)
	return (above - below) / (2 * (dh + dr)), up, down
}

// singular: the determinant vanishes beside what rounding makes of it. The
// derivatives are compared in the units of the readings' uncertainties, over
// a metre and over the density itself.
func (j *jacobian) singular(a, b Witness, h, rho float64) bool {
	ah, ar, bh, br := j.ah/a.U, j.ar*rho/a.U, j.bh/b.U, j.br*rho/b.U
	scale := math.Hypot(ah, ar) * math.Hypot(bh, br)
	return !(math.Abs(ah*br-ar*bh) > 1e-6*scale)
}

func (j *jacobian) determinant() float64 { return j.ah*j.br - j.ar*j.bh }

func (j *jacobian) solve(ra, rb float64) (dh, drho float64) {
	d := j.determinant()
	return (j.br*ra - j.ar*rb) / d, (j.ah*rb - j.bh*ra) / d
}

// estimate propagates the uncertainties of the readings through the inverse.
func (j *jacobian) estimate(a, b Witness, h, rho float64, start Start) (Estimate, error) {
	d := j.determinant()
	ha, hb := j.br/d*a.U, -j.ar/d*b.U
	ra, rb := -j.bh/d*a.U, j.ah/d*b.U
	uh, ur := math.Hypot(ha, hb), math.Hypot(ra, rb)
	if !(ur < float64(start.UDensity)) {
		return Estimate{}, &NotIdentifiableError{
			Reason: fmt.Sprintf("at a level of %.0f mm %s and %s differ too little in how they depend on it", 1e3*h, a.Name, b.Name),
			U:      quantity.Density(ur), Limit: start.UDensity}
	}
	return Estimate{quantity.Length(h), quantity.Density(rho), quantity.Length(uh), quantity.Density(ur), (ha*ra + hb*rb) / (uh * ur)}, nil
}
