// Package collectortest holds sources and devices for the tests of others: a
// scripted Source whose values, faults and delays a test sets by hand, a
// Modbus device that answers and remembers what it was asked, and a proxy
// that damages what passes through it.
package collectortest

import (
	"context"
	"errors"
	"sync"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// Source is a scripted collector.Source. All methods may be called from any
// goroutine.
type Source struct {
	name  string
	tags  []collector.Tag
	clock collector.Clock

	mu      sync.Mutex
	samples map[collector.Tag]collector.Sample
	delay   time.Duration
	down    error
	reads   int
	closed  bool
}

var _ collector.Source = (*Source)(nil)

// NewSource makes a source whose tags have never been read.
func NewSource(clock collector.Clock, name string, tags ...collector.Tag) *Source {
	s := &Source{name: name, tags: tags, clock: clock, samples: map[collector.Tag]collector.Sample{}}
	for _, tag := range tags {
		s.samples[tag] = collector.Sample{Tag: tag, Quality: quantity.Absent, Reason: quantity.NotRead}
	}
	return s
}

// Set gives a tag a good value.
func (s *Source) Set(tag collector.Tag, value float64) {
	s.SetSample(collector.Sample{Tag: tag, Value: value, Quality: quantity.Good})
}

// Fail makes a tag bad for a reason.
func (s *Source) Fail(tag collector.Tag, why quantity.Reason) {
	s.SetSample(collector.Sample{Tag: tag, Quality: quantity.Bad, Reason: why})
}

// SetSample gives a tag a whole sample; its Time is set when it is read.
func (s *Source) SetSample(sample collector.Sample) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.samples[sample.Tag] = sample
}

// Delay makes every read take d, or until its context ends.
func (s *Source) Delay(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.delay = d
}

// Down makes every read fail with err; nil brings the source back.
func (s *Source) Down(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.down = err
}

// Reads is how often the source has been read.
func (s *Source) Reads() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.reads
}

// Closed says whether the source has been closed.
func (s *Source) Closed() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.closed
}

// Name is the name it was made with.
func (s *Source) Name() string { return s.name }

// Tags are those it was made with.
func (s *Source) Tags() []collector.Tag { return s.tags }

// Close marks the source closed.
func (s *Source) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	return nil
}

// Read gives the samples as they are set.
func (s *Source) Read(ctx context.Context) ([]collector.Sample, error) {
	s.mu.Lock()
	s.reads++
	delay := s.delay
	s.mu.Unlock()
	if err := s.clock.Sleep(ctx, delay); err != nil {
		return s.all(quantity.NoAnswer), err
	}
	s.mu.Lock()
	down := s.down
	s.mu.Unlock()
	if down != nil {
		return s.all(quantity.NotConnected), down
	}
	return s.all(quantity.NoReason), nil
}

// all is every sample, made bad when there is a reason.
func (s *Source) all(why quantity.Reason) []collector.Sample {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.clock.Now()
	samples := make([]collector.Sample, len(s.tags))
	for i, tag := range s.tags {
		sample := s.samples[tag]
		if why != quantity.NoReason {
			sample = collector.Sample{Tag: tag, Quality: quantity.Bad, Reason: why}
		}
		sample.Time = now
		samples[i] = sample
	}
	return samples
}

// ErrDown is a ready error for Down.
var ErrDown = errors.New("collectortest: the device is down")
