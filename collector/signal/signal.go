// Package signal turns a raw value (register, milliamperes, volts, ohms,
// contact) into an engineering quantity in SI units with a quality and a
// reason, and back. It is pure: no I/O, no clock.
//
// Four to twenty milliamperes carry more than a number. NAMUR NE 43 (edition
// of 2003-02-03, as quoted by instrument makers' manuals; the text itself is
// not free) divides the current into
//
//	measuring      3.8 mA <= I <= 20.5 mA
//	failure        I <= 3.6 mA or I >= 21.0 mA
//	neither        in between
//
// A current that measures but lies outside 4-20 mA is valid and marked
// Saturated; one that is neither is Uncertain and Saturated; a failure
// current is Bad and a SensorFault. The value is never clamped.
package signal

import "bridlewatch/compare/quantity"

// Kind is the nature of the raw signal.
type Kind string

// Kinds.
const (
	Value   Kind = "value"   // already a number in a unit
	Current Kind = "current" // milliamperes, 4-20 mA with the limits of NAMUR NE 43
	Voltage Kind = "voltage" // volts, 1-5 V: 4-20 mA across 250 ohms, with the same limits
	Counts  Kind = "counts"  // converter counts between Raw[0] and Raw[1]
	Pt100   Kind = "pt100"   // ohms, IEC 60751
	Contact Kind = "contact" // 0 or 1
)

// Spec says how to convert one signal. Range and Offset are in the SI unit of
// the quantity; the raw limits are in the unit of the signal.
type Spec struct {
	Kind   Kind
	Raw    [2]float64 // counts: raw at Range[0] and Range[1]
	Range  [2]float64 // engineering value at the low and high end of the signal; for Value: scale factor and offset are used instead
	Scale  float64    // value: SI = raw*Scale + Offset; 0 means 1
	Offset float64
	Invert bool // contact: 0 means wet
	// Sentinels are raw values by which the device says "no value".
	Sentinels []float64
	// Low and High are plausibility limits in SI; used when High > Low.
	Low, High float64

	// RawScale turns what the device sends into the unit of the signal, for
	// example 0.001 for a register in microamperes. 0 means 1. It is not used
	// for values, counts and contacts.
	RawScale float64
	// LiveZero says that counts stand for 4-20 mA, so that the limits of
	// NE 43 apply in proportion to Raw.
	LiveZero bool
	// Class is the tolerance class of a Pt100; empty means B.
	Class Class
}

// Convert turns a raw reading into SI. The result has the time of the raw
// reading and never a better quality. What is not Usable has no meaningful
// value, but keeps the converted one for showing where there is one.
func (s *Spec) Convert(raw quantity.Reading) quantity.Reading {
	value, quality, reason := s.ConvertValue(raw.Value, raw.Quality, raw.Reason)
	return quantity.Reading{Value: value, Time: raw.Time, Quality: quality, Reason: reason}
}

// ConvertValue is Convert for a raw value with its quality.
func (s *Spec) ConvertValue(raw float64, q quantity.Quality, why quantity.Reason) (float64, quantity.Quality, quantity.Reason) {
	switch {
	case !q.Usable():
		return 0, q, why
	case !finite(raw):
		return 0, quantity.Bad, quantity.NotANumber
	case s.isSentinel(raw):
		return 0, quantity.Bad, quantity.Sentinel
	}
	value, quality, reason := s.convert(raw)
	if !finite(value) {
		return 0, quantity.Bad, quantity.NotANumber
	}
	if s.High > s.Low && quality != quantity.Bad && (value < s.Low || value > s.High) {
		quality, reason = quantity.Bad, quantity.OutOfRange
	}
	if quality > q { // what was Uncertain cannot become Good and keeps its reason
		quality, reason = q, why
	}
	return value, quality, reason
}

// convert dispatches on the kind. It does not look at sentinels and
// plausibility.
func (s *Spec) convert(raw float64) (float64, quantity.Quality, quantity.Reason) {
	switch s.Kind {
	case Value:
		return raw*orOne(s.Scale) + s.Offset, quantity.Good, quantity.NoReason
	case Current:
		return s.live(fraction(raw*orOne(s.RawScale), 4, 20))
	case Voltage:
		return s.live(fraction(raw*orOne(s.RawScale), 1, 5))
	case Counts:
		return s.counts(raw)
	case Pt100:
		return ofOhms(raw * orOne(s.RawScale))
	case Contact:
		return s.contact(raw)
	}
	return 0, quantity.Bad, quantity.ConversionFailed
}

// counts converts converter counts. Beyond both ends a converter has no
// accuracy to speak of: the value is usable but marked.
func (s *Spec) counts(raw float64) (float64, quantity.Quality, quantity.Reason) {
	if s.LiveZero {
		return s.live(fraction(raw, s.Raw[0], s.Raw[1]))
	}
	x := fraction(raw, s.Raw[0], s.Raw[1])
	if x < 0 || x > 1 {
		return s.span(x), quantity.Uncertain, quantity.OutOfRange
	}
	return s.span(x), quantity.Good, quantity.NoReason
}

// contact gives 1 for wet and 0 for dry.
func (s *Spec) contact(raw float64) (float64, quantity.Quality, quantity.Reason) {
	if raw != 0 && raw != 1 {
		return 0, quantity.Bad, quantity.OutOfRange
	}
	if s.Invert {
		raw = 1 - raw
	}
	return raw, quantity.Good, quantity.NoReason
}

// span is the engineering value at fraction x of the signal.
func (s *Spec) span(x float64) float64 { return s.Range[0] + x*(s.Range[1]-s.Range[0]) }

// isSentinel compares with the sentinels as written and as a device with
// 32-bit numbers sends them.
func (s *Spec) isSentinel(raw float64) bool {
	for _, v := range s.Sentinels {
		if raw == v || raw == float64(float32(v)) {
			return true
		}
	}
	return false
}

func fraction(v, low, high float64) float64 { return (v - low) / (high - low) }

func orOne(scale float64) float64 {
	if scale == 0 {
		return 1
	}
	return scale
}

// finite is false for NaN and both infinities.
func finite(v float64) bool { return v-v == 0 }
