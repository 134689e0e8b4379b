// Package quantity holds the typed quantities every other package speaks in,
// the parser that reads them with their units, and the quality of a reading.
//
// All values are SI: metre, pascal, kelvin, kilogram, kilogram per cubic
// metre. A Pressure is always absolute; a gauge pressure exists only as text
// ("42 bar(g)") and is made absolute with the atmospheric pressure of the
// site when it is read. Conversions happen at the edge and only there.
package quantity

import "time"

// Length is a length or an elevation difference in metres.
type Length float64

// Pressure is an absolute pressure in pascals.
type Pressure float64

// PressureDifference is a difference of two pressures in pascals.
type PressureDifference float64

// Temperature is a thermodynamic temperature in kelvins.
type Temperature float64

// TemperatureDifference is a difference of two temperatures in kelvins.
type TemperatureDifference float64

// Density is a mass density in kilograms per cubic metre.
type Density float64

// Mass is a mass in kilograms.
type Mass float64

// Exact or defined constants.
const (
	// Millimetre is one thousandth of a metre.
	Millimetre Length = 1e-3
	// Inch is 25.4 mm exactly (international yard and pound agreement, 1959).
	Inch Length = 0.0254
	// Foot is 12 inches.
	Foot Length = 12 * Inch
	// StandardGravity is 9.80665 m/s2 exactly (3rd CGPM, 1901).
	StandardGravity = 9.80665
	// StandardAtmosphere is 101325 Pa exactly (10th CGPM, 1954).
	StandardAtmosphere Pressure = 101325
	// ZeroCelsius is 273.15 K exactly (definition of the Celsius scale).
	ZeroCelsius Temperature = 273.15
)

// Millimetres returns the length in millimetres.
func (l Length) Millimetres() float64 { return float64(l) * 1e3 }

// Metres returns the length in metres.
func (l Length) Metres() float64 { return float64(l) }

// Celsius returns the temperature in degrees Celsius.
func (t Temperature) Celsius() float64 { return float64(t - ZeroCelsius) }

// FromCelsius makes a Temperature of degrees Celsius.
func FromCelsius(c float64) Temperature { return Temperature(c) + ZeroCelsius }

// Bar returns the absolute pressure in bar.
func (p Pressure) Bar() float64 { return float64(p) / 1e5 }

// Kilopascals returns the absolute pressure in kPa.
func (p Pressure) Kilopascals() float64 { return float64(p) / 1e3 }

// Reading is one measured value after conversion to an engineering quantity
// in SI units, with its quality and the time the source gave it.
type Reading struct {
	Value   float64
	Time    time.Time
	Quality Quality
	Reason  Reason
}

// Usable reports whether the value may be computed with.
func (r Reading) Usable() bool { return r.Quality.Usable() }
