package pipe

import (
	"fmt"

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

func (w Wall) se() float64 { return float64(w.Stress) * orElse(w.Quality, 1) }
func (w Wall) y() float64  { return orElse(w.Y, 0.4) }

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
	psi   = 6894.757293168   // Pa: pound-force per square inch
	ksi   = 1000 * psi       // Pa
	degF  = 5.0 / 9.0        // K
	zeroF = 459.67 * 5.0 / 9 // K
)

// Stress316 returns the basic allowable stress of seamless 316 pipe by
// temperature, ASME B31.3 table A-1: 20.0 ksi to 300 °F, 19.3 at 400, 17.9 at
// 500, 17.0 at 600, 16.3 at 700, 15.9 at 800 °F, all from memory, straight
// lines between. Above 800 °F there is no value here.
func Stress316(t quantity.Temperature) (quantity.PressureDifference, error) {
	f := (float64(t) - zeroF) / degF
	table := [...][2]float64{{-325, 20.0}, {300, 20.0}, {400, 19.3}, {500, 17.9}, {600, 17.0}, {700, 16.3}, {800, 15.9}}
	if !(f >= table[0][0] && f <= table[len(table)-1][0]) {
		return 0, &quantity.RangeError{Model: "allowable stress of 316", Quantity: "temperature", Value: float64(t),
			Low: table[0][0]*degF + zeroF, High: table[len(table)-1][0]*degF + zeroF, Unit: "K", Remedy: "take the stress from the code"}
	}
	i := 1
	for f > table[i][0] {
		i++
	}
	a, b := table[i-1], table[i]
	return quantity.PressureDifference((a[1] + (b[1]-a[1])*(f-a[0])/(b[0]-a[0])) * ksi), nil
}

func orElse(v, otherwise float64) float64 {
	if v > 0 {
		return v
	}
	return otherwise
}
