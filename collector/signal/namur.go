package signal

import "bridlewatch/compare/quantity"

// Limits of NAMUR NE 43 in milliamperes.
const (
	FailureLow    = 3.6
	MeasuringLow  = 3.8
	MeasuringHigh = 20.5
	FailureHigh   = 21.0
)

// hair absorbs the rounding of a register that is multiplied by a decimal
// scale, so that 36000 x 0.0001 mA is 3.6 mA. It is one part in 1e9 of 1 mA.
const hair = 1e-9

// The NE 43 limits as fractions of the 4-20 mA span.
var (
	failureLow    = fraction(FailureLow, 4, 20)
	measuringLow  = fraction(MeasuringLow, 4, 20)
	measuringHigh = fraction(MeasuringHigh, 4, 20)
	failureHigh   = fraction(FailureHigh, 4, 20)
)

// live converts a signal with a live zero at fraction x of its span.
func (s *Spec) live(x float64) (float64, quantity.Quality, quantity.Reason) {
	quality, reason := judgeLive(x)
	return s.span(x), quality, reason
}

// judgeLive says what NE 43 says about a signal at fraction x of its span.
func judgeLive(x float64) (quantity.Quality, quantity.Reason) {
	switch {
	case x <= failureLow+hair || x >= failureHigh-hair:
		return quantity.Bad, quantity.SensorFault
	case x < measuringLow-hair || x > measuringHigh+hair:
		return quantity.Uncertain, quantity.Saturated
	case x < -hair || x > 1+hair:
		return quantity.Good, quantity.Saturated
	}
	return quantity.Good, quantity.NoReason
}
