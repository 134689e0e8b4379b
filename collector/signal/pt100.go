package signal

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// Coefficients of IEC 60751:2008, clause 4.2 (equations for the industrial
// platinum resistance thermometer with R0 = 100 ohms).
const (
	pt100R0 = 100.0
	pt100A  = 3.9083e-3
	pt100B  = -5.775e-7
	pt100C  = -4.183e-12

	pt100Lowest  = -200.0 // °C
	pt100Highest = 850.0  // °C
)

// Ohms is the resistance of a Pt100 at t between -200 and 850 °C. Outside it
// returns a *RangeError.
func Ohms(t quantity.Temperature) (float64, error) {
	c := t.Celsius()
	if !(c >= pt100Lowest-hair && c <= pt100Highest+hair) {
		return 0, &RangeError{What: "temperature", Value: c, Low: pt100Lowest, High: pt100Highest, Unit: "°C",
			Remedy: "a Pt100 is defined by IEC 60751 only there"}
	}
	return ohmsAt(c), nil
}

func ohmsAt(c float64) float64 {
	r := 1 + c*(pt100A+c*pt100B)
	if c < 0 {
		r += pt100C * (c - 100) * c * c * c
	}
	return pt100R0 * r
}

// The ends of the range.
var ohmsLowest, ohmsHighest = ohmsAt(pt100Lowest), ohmsAt(pt100Highest)

// slopeAt is the derivative of ohmsAt in ohms per kelvin.
func slopeAt(c float64) float64 {
	d := pt100A + 2*pt100B*c
	if c < 0 {
		d += pt100C * c * c * (4*c - 300)
	}
	return pt100R0 * d
}

// ofOhms inverts the equation: in closed form above 0 °C, by Newton's method
// below. A resistance outside -200..850 °C is a broken or shorted sensor.
func ofOhms(r float64) (float64, quantity.Quality, quantity.Reason) {
	if r < ohmsLowest-hair || r > ohmsHighest+hair {
		return 0, quantity.Bad, quantity.SensorFault
	}
	return float64(quantity.FromCelsius(celsiusOf(r))), quantity.Good, quantity.NoReason
}

func celsiusOf(r float64) float64 {
	c := (-pt100A + math.Sqrt(pt100A*pt100A-4*pt100B*(1-r/pt100R0))) / (2 * pt100B)
	if r >= pt100R0 {
		return c
	}
	for range 4 { // the closed form starts within 2.4 K; each step squares the error
		c -= (ohmsAt(c) - r) / slopeAt(c)
	}
	return c
}

// Class is a tolerance class of IEC 60751:2008, table 3.
type Class string

// Tolerance classes.
const (
	ClassAA Class = "AA"
	ClassA  Class = "A"
	ClassB  Class = "B"
	ClassC  Class = "C"
)

// Tolerance is the half width of the tolerance band of a class at t: the
// sensor as delivered lies within ±Tolerance. The empty class is B.
func (c Class) Tolerance(t quantity.Temperature) (quantity.TemperatureDifference, error) {
	at := math.Abs(t.Celsius())
	switch c {
	case ClassAA:
		return quantity.TemperatureDifference(0.1 + 0.0017*at), nil
	case ClassA:
		return quantity.TemperatureDifference(0.15 + 0.002*at), nil
	case ClassB, "":
		return quantity.TemperatureDifference(0.3 + 0.005*at), nil
	case ClassC:
		return quantity.TemperatureDifference(0.6 + 0.01*at), nil
	}
	return 0, fmt.Errorf("signal: unknown tolerance class %q; use AA, A, B or C", string(c))
}
