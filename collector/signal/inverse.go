package signal

import (
	"fmt"

	"bridlewatch/compare/quantity"
)

// RangeError says that a value cannot be carried by a signal.
type RangeError struct {
	What      string
	Value     float64
	Low, High float64
	Unit      string
	Remedy    string
}

func (e *RangeError) Error() string {
	return fmt.Sprintf("signal: %s %g is outside %g..%g %s: %s", e.What, e.Value, e.Low, e.High, e.Unit, e.Remedy)
}

// Inverse undoes Convert: it is what a device sends for the value si. For a
// current it reaches from 3.8 to 20.5 mA, the measuring range of NE 43, and
// likewise for a voltage and for counts with a live zero; plain counts reach
// from Raw[0] to Raw[1]. Beyond these it returns a *RangeError whose limits
// are in the unit of the signal, so that a caller who simulates a
// transmitter can saturate.
func (s *Spec) Inverse(si float64) (float64, error) {
	if !finite(si) {
		return 0, fmt.Errorf("signal: %g is not a number a device can send", si)
	}
	switch s.Kind {
	case Value:
		return (si - s.Offset) / orOne(s.Scale), nil
	case Current:
		return s.rawSpan(si, 4, 20, orOne(s.RawScale), true, "mA")
	case Voltage:
		return s.rawSpan(si, 1, 5, orOne(s.RawScale), true, "V")
	case Counts:
		return s.rawSpan(si, s.Raw[0], s.Raw[1], 1, s.LiveZero, "counts")
	case Pt100:
		r, err := Ohms(quantity.Temperature(si))
		return r / orOne(s.RawScale), err
	case Contact:
		return s.rawContact(si)
	}
	return 0, fmt.Errorf("signal: unknown kind %q", string(s.Kind))
}

// rawSpan inverts a straight line and refuses what a transmitter would not
// send.
func (s *Spec) rawSpan(si, low, high, scale float64, liveZero bool, unit string) (float64, error) {
	x, first, last := fraction(si, s.Range[0], s.Range[1]), 0.0, 1.0
	if liveZero {
		first, last = measuringLow, measuringHigh
	}
	at := func(x float64) float64 { return (low + x*(high-low)) / scale }
	if !(x >= first-hair && x <= last+hair) {
		return 0, &RangeError{What: "signal", Value: at(x), Low: at(first), High: at(last), Unit: unit,
			Remedy: "a transmitter saturates there; widen the range of the signal"}
	}
	return at(x), nil
}

func (s *Spec) rawContact(si float64) (float64, error) {
	if si != 0 && si != 1 {
		return 0, &RangeError{What: "contact", Value: si, Low: 0, High: 1, Unit: "", Remedy: "use 0 for dry and 1 for wet"}
	}
	if s.Invert {
		return 1 - si, nil
	}
	return si, nil
}
