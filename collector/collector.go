// Package collector is the vocabulary of observation: what a tag, a sample
// and a source are. It does no I/O; the packages below it do.
//
// A sample is the raw value as the device gave it, before any conversion, so
// that levels can be computed again after a data sheet or a density has been
// corrected.
package collector

import (
	"context"
	"errors"
	"time"

	"bridlewatch/compare/quantity"
)

// Tag names one signal of the plant, for example "LT-101". Tags are unique in
// a configuration and compared byte by byte.
type Tag string

// Quality and Reason are those of package quantity: a reading keeps the
// quality of the sample it was made of.
type (
	Quality = quantity.Quality
	Reason  = quantity.Reason
)

// Sample is one raw value with its times and quality. A sample whose quality
// is not Good or Uncertain carries no meaningful value.
type Sample struct {
	Tag        Tag
	Value      float64
	Time       time.Time // when we received it
	SourceTime time.Time // the source's own time; zero when it gave none
	Quality    Quality
	Reason     Reason
	Detail     string // protocol detail for people, e.g. "exception 2 (illegal data address)"; may be empty
}

// Raw is the sample as a reading in the unit of the signal, the form package
// signal converts.
func (s *Sample) Raw() quantity.Reading {
	return quantity.Reading{Value: s.Value, Time: s.Time, Quality: s.Quality, Reason: s.Reason}
}

// ErrNotYet is given by a Read that ended while what it waits for may still
// come: a connection that is being made, a sender that has said nothing yet.
// Nothing has failed, and the next Read goes on waiting.
var ErrNotYet = errors.New("not yet")

// Source reads every one of its signals once. Read returns one sample for
// each of Tags, in that order, whatever happens: what could not be read comes
// back as Bad with a reason, so one failing signal spoils only itself. The
// next Read may overwrite them. The error is not nil only when nothing at all
// could be read; the samples are still complete then. Read honours ctx and is
// not called concurrently with itself. Close ends the connection; a Read after
// it makes a new one. No Source can write to a device.
type Source interface {
	Name() string
	Tags() []Tag
	Read(ctx context.Context) ([]Sample, error)
	Close() error
}

// Snapshot is the newest sample of every signal at one scheduled instant, in
// the order of the configuration.
type Snapshot struct {
	Time    time.Time // the scheduled tick
	Samples []Sample
}
