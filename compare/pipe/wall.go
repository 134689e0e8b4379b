package pipe

import (
	"cmp"
	"fmt"
	"strings"

	"bridlewatch/compare/quantity"
)

// MillTolerance is the part of the nominal wall a seamless pipe may lack
// (12.5 %, ASTM A312 and A106, from memory).
const MillTolerance = 0.125

// Wall is the pressure design of a straight pipe under internal gauge
// pressure, ASME B31.3 para. 304.1.2 eq. (3a):
//
//	t = P D / (2 (S E W + P Y)),  t < D/6 and P/(S E) <= 0.385
//
// B31.1 para. 104.1.2 has the same form with the allowance added (from
// memory). Symbols: P internal gauge pressure, D outside diameter, S allowable
// stress at temperature, E quality factor of the weld, W strength reduction of
// the weld, Y coefficient of material and temperature, c allowances for
// corrosion and thread.
type Wall struct {
	Outer     quantity.Length             // D
	Stress    quantity.PressureDifference // S
	Quality   float64                     // E W, 0 means 1
	Y         float64                     // 0 means 0.4
	Allowance quantity.Length             // c
}

func (w Wall) se() float64 { return float64(w.Stress) * cmp.Or(w.Quality, 1) }
func (w Wall) y() float64  { return cmp.Or(w.Y, 0.4) }

// OutOfRangeError says that the thin-wall equation does not cover the case;
// the code asks for more than this equation there.
type OutOfRangeError struct {
	What         string
	Value, Limit float64
}

func (e *OutOfRangeError) Error() string {
	return fmt.Sprintf("pipe: %s is %.4g, the equation of B31.3 304.1.2 ends at %.4g; a designer must treat this wall", e.What, e.Value, e.Limit)
}

// Required returns t, the wall that pressure alone asks for.
func (w Wall) Required(p quantity.PressureDifference) (quantity.Length, error) {
	if ratio := float64(p) / w.se(); !(ratio >= 0 && ratio <= 0.385) {
		return 0, &OutOfRangeError{"P/(S E)", ratio, 0.385}
	}
	t := float64(p) * float64(w.Outer) / (2 * (w.se() + float64(p)*w.y()))
	if t >= float64(w.Outer)/6 {
		return 0, &OutOfRangeError{"wall over diameter", t / float64(w.Outer), 1.0 / 6}
	}
	return quantity.Length(t), nil
}

// Ordered returns the nominal wall to look for in a table: the required one
// with allowance, over the mill tolerance.
func (w Wall) Ordered(p quantity.PressureDifference) (quantity.Length, error) {
	t, err := w.Required(p)
	return (t + w.Allowance) / (1 - MillTolerance), err
}

// Bound returns the gauge pressure at which a pipe of nominal wall has just
// the wall that pressure alone asks for: P = 2 S E W t / (D − 2 t Y) with t
// the nominal wall less mill tolerance and allowance. It is a plausibility
// bound, never a rating.
func (w Wall) Bound(nominal quantity.Length) (quantity.PressureDifference, error) {
	t := float64(nominal)*(1-MillTolerance) - float64(w.Allowance)
	if t <= 0 || t >= float64(w.Outer)/6 {
		return 0, &OutOfRangeError{"wall over diameter", t / float64(w.Outer), 1.0 / 6}
	}
	return quantity.PressureDifference(2 * w.se() * t / (float64(w.Outer) - 2*t*w.y())), nil
}

const (
	ksi  = 1000 * 6894.757293168 // Pa: thousand pound-force per square inch
	degF = 5.0 / 9.0             // K
)

// stresses are basic allowable stresses of seamless pipe in ksi by temperature
// in °F, ASME B31.3 table A-1, all from memory, straight lines between.
type stresses struct {
	name  string
	table [][2]float64
}

func allowable() []stresses {
	return []stresses{
		{"316L", [][2]float64{{-325, 16.7}, {300, 16.7}, {400, 15.7}, {500, 14.8}, {600, 14.0}, {700, 13.2}, {800, 12.6}}},
		{"316", [][2]float64{{-325, 20.0}, {300, 20.0}, {400, 19.3}, {500, 17.9}, {600, 17.0}, {700, 16.3}, {800, 15.9}}},
		{"304", [][2]float64{{-325, 20.0}, {300, 20.0}, {400, 18.7}, {500, 17.5}, {600, 16.4}, {700, 16.0}, {800, 15.2}}},
		{"A106", [][2]float64{{-20, 20.0}, {400, 20.0}, {500, 18.9}, {600, 17.3}, {650, 17.0}, {700, 16.5}, {750, 13.0}, {800, 10.8}}},
	}
}

// Stress returns the basic allowable stress of a pipe material and the
// material it was taken for: 316L, 316 (also 316/316L with two certificates),
// 304 or A106 grade B. A material or temperature that is not held here is an
// error; the code has them all.
func Stress(material string, t quantity.Temperature) (quantity.PressureDifference, string, error) {
	m := strings.ToUpper(strings.TrimSpace(material))
	for _, s := range allowable() {
		if strings.HasPrefix(m, s.name) {
			p, err := s.at(t)
			return p, s.name, err
		}
	}
	return 0, "", fmt.Errorf("pipe: no allowable stress is held here for material %q; take it from the code", material)
}

func (s stresses) at(t quantity.Temperature) (quantity.PressureDifference, error) {
	f := float64(t)/degF - 459.67
	first, last := s.table[0], s.table[len(s.table)-1]
	if !(f >= first[0]-1e-9 && f <= last[0]+1e-9) {
		return 0, &quantity.RangeError{Model: "allowable stress of " + s.name, Quantity: "temperature", Value: float64(t),
			Low: (first[0] + 459.67) * degF, High: (last[0] + 459.67) * degF, Unit: "K", Remedy: "take the stress from the code"}
	}
	i := 1
	for i < len(s.table)-1 && f > s.table[i][0] {
		i++
	}
	a, b := s.table[i-1], s.table[i]
	return quantity.PressureDifference((a[1] + (b[1]-a[1])*(f-a[0])/(b[0]-a[0])) * ksi), nil
}
