package buoyancy

import (
	"fmt"
	"math"
)

// Head is the shape that closes a float at both ends.
type Head uint8

// The shapes. The torispherical ones are given by crown radius and knuckle
// radius as multiples of the diameter D.
const (
	Flat             Head = iota
	Hemisphere            // height D/2
	Ellipsoid             // 2:1 semi-ellipsoidal, height D/4
	Kloepper              // DIN 28011: crown D, knuckle 0.1 D (from memory)
	Korbbogen             // DIN 28013: crown 0.8 D, knuckle 0.154 D (from memory)
	FlangedAndDished      // ASME flanged and dished: crown D, knuckle 0.06 D (from memory)
)

// The names are those of datasheet.EndShape.
var headNames = [...]string{
	"flat", "hemispherical", "ellipsoidal-2:1", "torispherical-kloepper", "torispherical-korbbogen", "torispherical-asme",
}

func (h Head) String() string {
	if int(h) < len(headNames) {
		return headNames[h]
	}
	return fmt.Sprintf("head(%d)", uint8(h))
}

// ParseHead returns the Head of a name as it stands in a data sheet. An empty
// name is a flat end.
func ParseHead(name string) (Head, error) {
	if name == "" {
		return Flat, nil
	}
	for i, n := range headNames {
		if n == name {
			return Head(i), nil
		}
	}
	return 0, fmt.Errorf("buoyancy: end shape %q is not one of %q", name, headNames)
}

// dish is one head of a given radius: the solid between its apex at z = 0 and
// its joint with the cylinder at z = height.
type dish struct {
	shape  Head
	r      float64 // radius of the cylinder
	crown  float64 // torispherical: crown radius
	knuck  float64 // torispherical: knuckle radius
	centre float64 // torispherical: radius of the circle of knuckle centres, r - knuck
	joint  float64 // torispherical: height of the joint of crown and knuckle
	height float64
	volume float64
}

func newDish(shape Head, r float64) dish {
	d := dish{shape: shape, r: r}
	switch shape {
	case Hemisphere:
		d.height = r
	case Ellipsoid:
		d.height = r / 2
	case Kloepper:
		d.torispherical(1, 0.1)
	case Korbbogen:
		d.torispherical(0.8, 0.154)
	case FlangedAndDished:
		d.torispherical(1, 0.06)
	}
	d.volume = d.below(d.height)
	return d
}

// torispherical sets the geometry of a crown of radius cd·D that meets a
// knuckle of radius kd·D tangentially.
func (d *dish) torispherical(cd, kd float64) {
	d.crown, d.knuck = 2*cd*d.r, 2*kd*d.r
	d.centre = d.r - d.knuck
	a := d.crown - d.knuck
	d.height = d.crown - math.Sqrt(a*a-d.centre*d.centre)
	s := d.centre / a
	d.joint = d.crown * (1 - math.Sqrt(1-s*s))
}

// below returns the volume between the apex and height z, 0 <= z <= height.
func (d *dish) below(z float64) float64 {
	switch d.shape {
	case Flat:
		return 0
	case Hemisphere:
		return sphericalCap(d.r, z)
	case Ellipsoid:
		b := d.height
		return math.Pi * d.r * d.r * z * z * (1/b - z/(3*b*b))
	}
	if z <= d.joint {
		return sphericalCap(d.crown, z)
	}
	return sphericalCap(d.crown, d.joint) + d.knuckle(d.height-d.joint) - d.knuckle(d.height-z)
}

// sphericalCap returns the volume of a spherical cap of height z on a sphere of radius r.
func sphericalCap(r, z float64) float64 { return math.Pi * z * z * (3*r - z) / 3 }

// knuckle returns the volume of the knuckle between the joint with the
// cylinder and the distance u from it: the integral of
// pi (centre + sqrt(knuck² - u²))².
func (d *dish) knuckle(u float64) float64 {
	k := math.Min(u/d.knuck, 1)
	arc := u*math.Sqrt(math.Max(0, d.knuck*d.knuck-u*u)) + d.knuck*d.knuck*math.Asin(k)
	return math.Pi * ((d.centre*d.centre+d.knuck*d.knuck)*u - u*u*u/3 + d.centre*arc)
}

// area returns the cross-section at height z, the derivative of below.
func (d *dish) area(z float64) float64 {
	switch d.shape {
	case Flat:
		return math.Pi * d.r * d.r
	case Hemisphere:
		return math.Pi * z * (2*d.r - z)
	case Ellipsoid:
		b := d.height
		return math.Pi * d.r * d.r * z * (2*b - z) / (b * b)
	}
	if z <= d.joint {
		return math.Pi * z * (2*d.crown - z)
	}
	u := d.height - z
	x := d.centre + math.Sqrt(math.Max(0, d.knuck*d.knuck-u*u))
	return math.Pi * x * x
}
