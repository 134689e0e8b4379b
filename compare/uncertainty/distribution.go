package uncertainty

import (
	"fmt"
	"math"
	"strings"
)

// Distribution is the shape of what is known about an input.
type Distribution uint8

// Distributions.
const (
	Normal      Distribution = iota
	Rectangular              // anywhere between two limits
	Triangular               // between two limits, more likely in the middle
	Arcsine                  // swinging between two limits
	Student                  // of few readings: scaled and shifted t
)

var distributionNames = [...]string{"normal", "rectangular", "triangular", "arcsine", "t"}

func (d Distribution) String() string {
	if int(d) < len(distributionNames) {
		return distributionNames[d]
	}
	return fmt.Sprintf("distribution(%d)", uint8(d))
}

// MarshalText writes the name.
func (d Distribution) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads a name that MarshalText wrote.
func (d *Distribution) UnmarshalText(text []byte) error {
	for i, name := range distributionNames {
		if name == string(text) {
			*d = Distribution(i)
			return nil
		}
	}
	return fmt.Errorf("%q is no distribution; it is one of %s", text, strings.Join(distributionNames[:], ", "))
}

// width is the half width over the standard deviation of a bounded shape, 1 of
// the others: JCGM 100:2008, 4.3.7 (rectangle), 4.3.9 (triangle); JCGM
// 101:2008, 6.4.6 (arcsine).
func (d Distribution) width() float64 {
	switch d {
	case Rectangular:
		return math.Sqrt(3)
	case Triangular:
		return math.Sqrt(6)
	case Arcsine:
		return math.Sqrt2
	}
	return 1
}

// FromHalfWidth returns the standard uncertainty of a shape between x − a and
// x + a. For Normal and Student, which have no limits, a is the standard
// uncertainty itself.
func FromHalfWidth(d Distribution, a float64) float64 { return a / d.width() }

// FromResolution returns the standard uncertainty of a reading in steps of d:
// d/√12 (JCGM 100:2008, F.2.2.1).
func FromResolution(d float64) float64 { return d / math.Sqrt(12) }

// draw returns a random value of the shape with mean 0 and standard deviation
// 1 (for Student: the t of ν degrees of freedom, whose deviation is larger).
func (d Distribution) draw(r Random, dof float64) float64 {
	switch d {
	case Rectangular:
		return math.Sqrt(3) * (2*r.Float64() - 1)
	case Triangular:
		return math.Sqrt(6) * (r.Float64() + r.Float64() - 1)
	case Arcsine:
		return math.Sqrt2 * math.Cos(math.Pi*r.Float64())
	case Student:
		return r.NormFloat64() / math.Sqrt(chiSquare(r, dof)/dof)
	}
	return r.NormFloat64()
}

// chiSquare draws from the chi-square distribution of ν degrees of freedom by
// Marsaglia and Tsang, "A simple method for generating gamma variables", ACM
// TOMS 26 (2000) 363, for ν >= 2; a fraction of a degree below is taken as 2.
func chiSquare(r Random, dof float64) float64 {
	d := math.Max(dof, 2)/2 - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := r.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v *= v * v
		if u := r.Float64(); math.Log(u) < x*x/2+d*(1-v+math.Log(v)) {
			return 2 * d * v
		}
	}
}
