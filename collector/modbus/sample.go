package modbus

import (
	"fmt"
	"math"
	"slices"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// sample judges a decoded value.
func (f Field) sample(v float64, now time.Time) collector.Sample {
	sample := collector.Sample{Tag: f.Tag, Value: v, Time: now, Quality: quantity.Good}
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		sample.Value, sample.Quality, sample.Reason = 0, quantity.Bad, quantity.NotANumber
	case f.isSentinel(v):
		sample.Quality, sample.Reason, sample.Detail = quantity.Bad, quantity.Sentinel, fmt.Sprintf("device sent %g", v)
	}
	return sample
}

// isSentinel compares with the sentinels as written and as 32-bit numbers.
func (f Field) isSentinel(v float64) bool {
	return slices.ContainsFunc(f.Sentinels, func(w float64) bool { return v == w || v == float64(float32(w)) })
}

// bad is the sample of a field that could not be read.
func (f Field) bad(err error, now time.Time) collector.Sample {
	return collector.Sample{Tag: f.Tag, Time: now, Quality: quantity.Bad, Reason: reasonOf(err), Detail: err.Error()}
}
