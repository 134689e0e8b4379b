package trial

import (
	"errors"
	"math"
	"time"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/collector/signal"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
)

// implant puts a fault into raw samples. It converts them as the service does,
// has the fault change the readings, and makes raw values of those again, in
// the steps the historian writes: the comparison then converts them itself, so
// that a signal that runs to its end is seen as one.
type implant struct {
	gauge   *config.Gauge
	graft   *scenario.Graft
	steps   []float64 // by signal
	out     []collector.Sample
	sound   gauge.Snapshot
	changed int // samples that say something else
}

func newImplant(g *config.Gauge, graft *scenario.Graft, steps []float64) *implant {
	return &implant{gauge: g, graft: graft, steps: steps, out: make([]collector.Sample, len(g.Signals))}
}

// apply returns the samples with the fault in them, valid until the next call.
func (m *implant) apply(at time.Time, in []collector.Sample) []collector.Sample {
	m.sound.Time = at
	for i := range in {
		sig := &m.gauge.Signals[i]
		r := watch.ReadingOf(&m.sound, sig)
		r.Time = in[i].Time
		r.Value, r.Quality, r.Reason = sig.Spec.ConvertValue(in[i].Value, in[i].Quality, in[i].Reason)
	}
	faulty := m.sound
	m.graft.Apply(&faulty)
	for i := range in {
		sig := &m.gauge.Signals[i]
		m.out[i] = in[i]
		if is, was := watch.ReadingOf(&faulty, sig), watch.ReadingOf(&m.sound, sig); *is != *was {
			rewrite(&m.out[i], &sig.Spec, is, m.steps[i])
			if m.out[i] != in[i] {
				m.changed++
			}
		}
	}
	return m.out
}

// rewrite makes a sample say what a reading says.
func rewrite(s *collector.Sample, spec *signal.Spec, r *quantity.Reading, step float64) {
	s.Time, s.SourceTime = r.Time, r.Time
	if !r.Usable() {
		s.Quality, s.Reason = r.Quality, r.Reason
		return
	}
	value := r.Value
	if r.Reason == quantity.Saturated && spec.Kind != signal.Value {
		value = spec.Range[1] + (spec.Range[1] - spec.Range[0]) // beyond what the signal carries
	}
	raw, err := spec.Inverse(value)
	var end *signal.RangeError
	switch {
	case errors.As(err, &end): // a transmitter saturates there
		raw = end.High
		if math.Abs(end.Value-end.Low) < math.Abs(end.Value-end.High) {
			raw = end.Low
		}
	case err != nil:
		s.Quality, s.Reason = quantity.Bad, quantity.NotANumber
		return
	}
	if step > 0 && spec.Kind != signal.Contact {
		raw = s.Value + math.Round((raw-s.Value)/step)*step
	}
	s.Value = raw
}
