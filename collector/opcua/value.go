package opcua

import (
	"errors"
	"fmt"
	"math"

	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

const (
	good         = quantity.Good
	uncertain    = quantity.Uncertain
	bad          = quantity.Bad
	refused      = quantity.Refused
	notConnected = quantity.NotConnected
)

// severity returns the two top bits of a status code: 0 good, 1 uncertain, 2
// and 3 bad (OPC 10000-4, 7.39).
func severity(c ua.StatusCode) uint32 { return uint32(c) >> 30 }

// sample fills quality, value and times of s from a data value. A bad status
// never carries a value; an uncertain one is used and marked.
func sample(s *collector.Sample, dv *ua.DataValue) {
	if dv == nil {
		s.Quality, s.Reason, s.Detail = bad, quantity.BadShape, "empty answer"
		return
	}
	s.SourceTime = dv.SourceTimestamp
	if severity(dv.Status) >= 2 {
		s.Quality, s.Reason, s.Detail = bad, refused, statusText(dv.Status)
		return
	}
	v, err := number(dv.Value)
	if err != nil {
		s.Quality, s.Reason, s.Detail = bad, quantity.BadShape, err.Error()
		return
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		s.Quality, s.Reason, s.Detail = bad, quantity.NotANumber, fmt.Sprint(v)
		return
	}
	s.Value, s.Quality, s.Reason, s.Detail = v, good, quantity.NoReason, ""
	if severity(dv.Status) == 1 {
		s.Quality, s.Reason, s.Detail = uncertain, quantity.DeviceUncertain, statusText(dv.Status)
	}
}

func statusText(c ua.StatusCode) string {
	if d, ok := ua.StatusCodes[c]; ok {
		return d.Name
	}
	return fmt.Sprintf("status 0x%08X", uint32(c))
}

// number reads a scalar number or truth value out of a variant.
func number(v *ua.Variant) (float64, error) {
	if v == nil || v.Value() == nil {
		return 0, errors.New("no value")
	}
	switch x := v.Value().(type) {
	case bool:
		if x {
			return 1, nil
		}
		return 0, nil
	case int8:
		return float64(x), nil
	case uint8:
		return float64(x), nil
	case int16:
		return float64(x), nil
	case uint16:
		return float64(x), nil
	case int32:
		return float64(x), nil
	case uint32:
		return float64(x), nil
	case int64:
		return float64(x), nil
	case uint64:
		return float64(x), nil
	case float32:
		return float64(x), nil
	case float64:
		return x, nil
	}
	return 0, fmt.Errorf("value is a %T, want one number or truth value", v.Value())
}
