package pipe

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// Shell is a thin tube, closed at both ends, under external pressure: the
// float. All pressures it gives are those of an ideal, perfectly round,
// elastic shell; a real float buckles at a fraction of them. Design codes
// divide by 3 and more and test for roundness. The maker's rating decides.
type Shell struct {
	Radius quantity.Length             // mean radius of the wall
	Wall   quantity.Length             // t
	Length quantity.Length             // between the ends, plus a third of each head's depth
	E      quantity.PressureDifference // modulus of elasticity
	Nu     float64                     // Poisson's ratio
	Yield  quantity.PressureDifference // yield stress; 0: not considered
}

func (s Shell) check() error {
	if !(s.Radius > 0) || !(s.Wall > 0) || !(s.E > 0) || !(s.Nu >= 0 && s.Nu < 0.5) {
		return fmt.Errorf("pipe: shell of radius %g m, wall %g m, modulus %g Pa, Poisson's ratio %g: the first three must be positive, the last in [0, 0.5)",
			float64(s.Radius), float64(s.Wall), float64(s.E), s.Nu)
	}
	if s.Wall > s.Radius/5 {
		return fmt.Errorf("pipe: wall %g m of a shell of radius %g m is not thin (more than a fifth)", float64(s.Wall), float64(s.Radius))
	}
	return nil
}

// LongTube returns the collapse pressure of a tube too long for its ends to
// help, Roark's Formulas for Stress and Strain, table 35 case 19a (6th ed.):
// p = E/(4 (1 − ν²)) (t/r)³, for L > 4.90 r √(r/t).
func (s Shell) LongTube() quantity.PressureDifference {
	x := float64(s.Wall / s.Radius)
	return quantity.PressureDifference(float64(s.E) / (4 * (1 - s.Nu*s.Nu)) * x * x * x)
}

// ShortTube is case 19b (from memory):
// p = 0.807 (E t²/(L r)) [(1/(1 − ν²))³ t²/r²]^(1/4).
func (s Shell) ShortTube() quantity.PressureDifference {
	t, r, l := float64(s.Wall), float64(s.Radius), float64(s.Length)
	k := 1 / (1 - s.Nu*s.Nu)
	return quantity.PressureDifference(0.807 * float64(s.E) * t * t / (l * r) * math.Sqrt(math.Sqrt(k*k*k*t*t/(r*r))))
}

// VonMises returns the collapse pressure under hydrostatic load and the number
// of lobes, the least over n >= 2 of
//
//	p = (E t/R)/(n² − 1 + Z²/2) {1/(n²/Z² + 1)² + t²/(12 R² (1 − ν²)) (n² − 1 + Z²)²},  Z = π R/L
//
// It is the form of PD 5500 and EN 13445-3 (from memory) and goes over into
// LongTube for L to infinity.
func (s Shell) VonMises() (p quantity.PressureDifference, lobes int) {
	t, r := float64(s.Wall), float64(s.Radius)
	z2 := math.Pow(math.Pi*r/float64(s.Length), 2)
	bending := t * t / (12 * r * r * (1 - s.Nu*s.Nu))
	least := math.Inf(1)
	for n := 2; n <= 40; n++ {
		n2 := float64(n * n)
		membrane := 1 / math.Pow(n2/z2+1, 2)
		at := float64(s.E) * t / r / (n2 - 1 + z2/2) * (membrane + bending*math.Pow(n2-1+z2, 2))
		if at < least {
			least, lobes = at, n
		}
	}
	return quantity.PressureDifference(least), lobes
}

// WindenburgTrilling returns p = 2.42 E (t/D)^2.5 / ((1 − ν²)^0.75 (L/D −
// 0.45 √(t/D))) (from memory), D the mean diameter.
func (s Shell) WindenburgTrilling() quantity.PressureDifference {
	x := float64(s.Wall) / (2 * float64(s.Radius))
	slender := float64(s.Length)/(2*float64(s.Radius)) - 0.45*math.Sqrt(x)
	return quantity.PressureDifference(2.42 * float64(s.E) * math.Pow(x, 2.5) / (math.Pow(1-s.Nu*s.Nu, 0.75) * slender))
}

// Sphere returns the ideal buckling pressure of a sphere of the same radius
// and wall, 2 E t²/(r² √(3 (1 − ν²))), and the practical minimum 0.365 E
// t²/r² (Roark table 35 case 22, from memory).
func (s Shell) Sphere() (ideal, practical quantity.PressureDifference) {
	x := float64(s.Wall / s.Radius)
	e := float64(s.E) * x * x
	return quantity.PressureDifference(2 * e / math.Sqrt(3*(1-s.Nu*s.Nu))), quantity.PressureDifference(0.365 * e)
}

// SphereAllowable returns 0.0625 E/(Ro/t)², ASME BPVC VIII-1 UG-28(d) (from
// memory), with Ro the outside radius.
func (s Shell) SphereAllowable() quantity.PressureDifference {
	x := float64(s.Wall / (s.Radius + s.Wall/2))
	return quantity.PressureDifference(0.0625 * float64(s.E) * x * x)
}

// YieldPressure returns the pressure at which the hoop stress yields, σ t/r.
func (s Shell) YieldPressure() quantity.PressureDifference {
	return s.Yield * quantity.PressureDifference(s.Wall/s.Radius)
}

// Collapse is a plausibility bound: the least of tube buckling, sphere
// buckling and yield, with what rules.
type Collapse struct {
	Pressure quantity.PressureDifference
	By       string
}

// Caution goes with every Collapse and every Wall.Bound that is shown.
const Caution = "Plausibility bound of an ideal, perfect part, before any safety factor; flanges, welds, dents, corrosion and temperature allow less. " +
	"The maker's rating and the design code of the site decide."

// Collapse returns the bound of the shell.
func (s Shell) Collapse() (Collapse, error) {
	if err := s.check(); err != nil {
		return Collapse{}, err
	}
	tube := s.LongTube()
	name := "buckling of the tube, no help from the ends"
	if s.Length > 0 {
		tube, _ = s.VonMises()
		name = "buckling of the tube between its ends"
	}
	least := Collapse{tube, name}
	if _, head := s.Sphere(); head < least.Pressure {
		least = Collapse{head, "buckling of the heads"}
	}
	if y := s.YieldPressure(); s.Yield > 0 && y < least.Pressure {
		least = Collapse{y, "yield of the wall"}
	}
	return least, nil
}
