package rehearsal

import (
	"encoding/binary"
	"errors"
	"math"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/quantity"
)

// Where NE 43 puts a transmitter that is broken, and one that is driven
// beyond its range, as fractions of the 4-20 mA span: 3.5, 3.7 and 20.7 mA.
const (
	brokenLoop  = (3.5 - 4) / 16
	belowRange  = (3.7 - 4) / 16
	beyondRange = (20.7 - 4) / 16
)

// rawValue is what the device behind a signal sends for a reading: the inverse
// conversion, saturated as the device would. A reading that does not arrive
// becomes the device's own sign for it where it has one; otherwise ok is
// false.
func rawValue(spec signal.Spec, r quantity.Reading) (value float64, ok bool) {
	if !r.Usable() {
		return noValue(spec)
	}
	if r.Quality == quantity.Uncertain && r.Reason == quantity.Saturated {
		if low, high, live := liveSpan(spec); live {
			if middle := (spec.Range[0] + spec.Range[1]) / 2; (r.Value > middle) == (spec.Range[1] > spec.Range[0]) {
				return low + beyondRange*(high-low), true
			}
			return low + belowRange*(high-low), true
		}
	}
	value, err := spec.Inverse(r.Value)
	var outside *signal.RangeError
	if errors.As(err, &outside) {
		low, high := min(outside.Low, outside.High), max(outside.Low, outside.High)
		return min(max(outside.Value, low), high), true
	}
	return value, err == nil
}

// noValue is how a device says that it has no value.
func noValue(spec signal.Spec) (float64, bool) {
	if len(spec.Sentinels) > 0 {
		return spec.Sentinels[0], true
	}
	if low, high, live := liveSpan(spec); live {
		return low + brokenLoop*(high-low), true
	}
	return 0, false
}

// liveSpan returns the ends of a signal with a live zero, in its raw unit.
func liveSpan(spec signal.Spec) (low, high float64, live bool) {
	scale := spec.RawScale
	if scale == 0 {
		scale = 1
	}
	switch {
	case spec.Kind == signal.Current:
		return 4 / scale, 20 / scale, true
	case spec.Kind == signal.Voltage:
		return 1 / scale, 5 / scale, true
	case spec.Kind == signal.Counts && spec.LiveZero:
		return spec.Raw[0], spec.Raw[1], true
	}
	return 0, 0, false
}

// registers writes a number the way a device of the given type and byte order
// keeps it. Integers are rounded and stop at the ends of their type.
func registers(value float64, kind, order string) []uint16 {
	switch kind {
	case "int16":
		return words(uint64(uint16(int16(within(value, math.MinInt16, math.MaxInt16)))), 1, order)
	case "uint32":
		return words(uint64(uint32(within(value, 0, math.MaxUint32))), 2, order)
	case "int32":
		return words(uint64(uint32(int32(within(value, math.MinInt32, math.MaxInt32)))), 2, order)
	case "uint64":
		return words(uint64(within(value, 0, 1<<53)), 4, order)
	case "int64":
		return words(uint64(int64(within(value, -(1<<53), 1<<53))), 4, order)
	case "float32":
		return words(uint64(math.Float32bits(float32(value))), 2, order)
	case "float64":
		return words(math.Float64bits(value), 4, order)
	}
	return words(uint64(uint16(within(value, 0, math.MaxUint16))), 1, order)
}

func within(value, low, high float64) float64 {
	return math.Min(math.Max(math.Round(value), low), high)
}

// words cuts a number of n registers into words in the order of the wire.
func words(bits uint64, n int, order string) []uint16 {
	var bytes [8]byte
	binary.BigEndian.PutUint64(bytes[:], bits)
	out := make([]uint16, n)
	for i := range out {
		word := binary.BigEndian.Uint16(bytes[8-2*n+2*i:])
		if order == "BADC" || order == "DCBA" {
			word = word<<8 | word>>8
		}
		at := i
		if order == "CDAB" || order == "DCBA" {
			at = n - 1 - i
		}
		out[at] = word
	}
	return out
}
