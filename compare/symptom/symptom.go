// Package symptom finds patterns over time in the measurements of one gauge.
// Every detector is a fold over measurements with a plain, serialisable state
// and no clock.
package symptom

import (
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// Kind names a pattern. The strings are stored and published; never change one.
type Kind string

// Kinds.
const (
	GapBeyondBudget   Kind = "gap-beyond-budget"
	GapStep           Kind = "gap-step"
	GapDrift          Kind = "gap-drift"
	SpanError         Kind = "span-error"
	FloatStill        Kind = "float-still"
	FloatPartial      Kind = "float-partial"
	FloatOneWay       Kind = "float-one-way"
	StickSlip         Kind = "stick-slip"
	FloatAtBottom     Kind = "float-at-bottom"
	TransmitterFrozen Kind = "transmitter-frozen"
	TransmitterLimit  Kind = "transmitter-saturated"
	NoiseLost         Kind = "noise-lost"
	NoiseGrown        Kind = "noise-grown"
	PointContradicts  Kind = "point-contradicts"
	PointMissed       Kind = "point-missed-crossing"
	PointShifted      Kind = "point-shifted"
	PointWidened      Kind = "point-differential-grown"
	PointChatter      Kind = "point-chatter"
	DensityFollows    Kind = "gap-follows-density"
	TimeSkew          Kind = "time-skew"
	ChamberLag        Kind = "chamber-lag"
	ChamberDead       Kind = "chamber-dead"
	ChamberGain       Kind = "chamber-gain"
	OutsideDataSheet  Kind = "outside-data-sheet"
	NoReading         Kind = "no-reading"
)

// Symptom is one pattern that is present.
type Symptom struct {
	Kind     Kind
	Pair     gauge.Pair // meaningful for gap symptoms
	Point    int        // index of the point switch, -1 otherwise
	Since    time.Time  // estimated onset
	Found    time.Time
	Value    quantity.Length // size of the effect
	Budget   quantity.Length // what would be allowed
	RatePerD quantity.Length // drift per day, 0 otherwise
	Moves    int             // excitation counted in moves
	Crossing int             // excitation counted in crossings
	Nats     float64         // log-likelihood for the pattern against none
	Sentence string          // what was seen, in plain words
}
