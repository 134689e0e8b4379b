package signal

import (
	"fmt"

	"bridlewatch/compare/quantity"
)

// Validate reports everything that is wrong with the Spec.
func (s *Spec) Validate() []error {
	var errs []error
	complain := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }

	switch s.Kind {
	case Value, Contact:
	case Current, Voltage:
		s.checkSpan(complain)
		s.checkSentinels(complain)
	case Counts:
		s.checkSpan(complain)
		if !distinct(s.Raw) {
			complain("counts %g to %g are no range; give the counts at both ends", s.Raw[0], s.Raw[1])
		}
	case Pt100:
		if _, err := s.Class.Tolerance(quantity.ZeroCelsius); err != nil {
			complain("unknown tolerance class %q; use AA, A, B or C", string(s.Class))
		}
	default:
		complain("unknown kind %q; use value, current, voltage, counts, pt100 or contact", string(s.Kind))
	}

	for _, number := range []struct {
		name  string
		value float64
	}{{"scale", s.Scale}, {"offset", s.Offset}, {"raw scale", s.RawScale}, {"low limit", s.Low}, {"high limit", s.High}} {
		if !finite(number.value) {
			complain("%s %g is not a number", number.name, number.value)
		}
	}
	if s.High < s.Low {
		complain("plausibility limits %g..%g are the wrong way round", s.Low, s.High)
	}
	if s.Invert && s.Kind != Contact {
		complain("only a contact can be inverted, not a signal of kind %q", string(s.Kind))
	}
	return errs
}

func (s *Spec) checkSpan(complain func(string, ...any)) {
	if !distinct(s.Range) {
		complain("range %g to %g is no range; give the value at both ends of the signal", s.Range[0], s.Range[1])
	}
}

// checkSentinels refuses a sentinel that is a proper measurement.
func (s *Spec) checkSentinels(complain func(string, ...any)) {
	for _, v := range s.Sentinels {
		if _, quality, _ := s.convert(v); quality == quantity.Good {
			complain("sentinel %g lies within the measuring range of the signal; a real value would be thrown away", v)
		}
	}
}

func distinct(pair [2]float64) bool {
	return finite(pair[0]) && finite(pair[1]) && pair[0] != pair[1]
}
