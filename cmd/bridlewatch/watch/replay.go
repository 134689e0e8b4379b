package watch

import (
	"cmp"
	"context"
	"slices"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare"
	"bridlewatch/compare/symptom"
	"bridlewatch/config"
)

// History is what a replay reads. Next writes every sample of the next instant,
// in the order of the configuration, and returns its time; io.EOF at the end.
type History interface {
	Next(samples []collector.Sample) (time.Time, error)
}

// Summary is what a replay says at the end.
type Summary struct {
	From      time.Time      `json:"from"`
	To        time.Time      `json:"to"`
	Snapshots int            `json:"snapshots"`
	Gauges    []GaugeSummary `json:"gauges"`
}

// GaugeSummary is one gauge of a summary.
type GaugeSummary struct {
	Gauge    string `json:"gauge"`
	Alerts   int    `json:"alerts"`
	Watches  int    `json:"watches"` // findings that never became alerts
	Open     int    `json:"open"`    // at the end
	Category string `json:"category"`
	Headline string `json:"headline"`

	Told   []Episode `json:"told,omitempty"`   // alerts but those of signals that were missing
	Silent []Silence `json:"silent,omitempty"` // those
}

// Replay takes history through the same evaluation as a live service. Gauges
// share all processors; changes come in the order of time. works are the
// records of what people did, by gauge and in order of time; each takes effect
// at its time. progress, when not nil, is called between blocks.
func Replay(ctx context.Context, cfg *config.Config, h History, works map[string][]compare.Work, onChange func(Change), progress func()) (Summary, error) {
	w, err := New(ctx, cfg, Options{})
	if err != nil {
		return Summary{}, err
	}
	for tag, list := range works {
		if err := w.remember(tag, list); err != nil {
			return Summary{}, err
		}
	}
	r := replay{units: w.units, episodes: make([]Episodes, len(w.units)), out: make([][]Change, len(w.units))}
	for _, u := range w.units {
		u.state.KeepConditions()
	}
	now, next := newBatch(len(Tags(cfg))), newBatch(len(Tags(cfg)))
	if err := now.read(h); err != nil {
		return Summary{}, err
	}
	for len(now.times) > 0 && ctx.Err() == nil {
		if err := r.evaluate(ctx, now, func() error { return next.read(h) }); err != nil {
			return Summary{}, err
		}
		for _, c := range r.drain() {
			onChange(c)
		}
		if progress != nil {
			progress()
		}
		now, next = next, now
	}
	return r.summary(), ctx.Err()
}

// replay is a replay under way.
type replay struct {
	units    []*unit
	episodes []Episodes // by unit
	out      [][]Change // by unit, since the last drain
	from, to time.Time
	count    int
}

// evaluate takes every unit through the snapshots, and reads on meanwhile.
func (r *replay) evaluate(ctx context.Context, b *batch, readOn func() error) error {
	if r.count == 0 {
		r.from = b.times[0]
	}
	r.to = b.times[len(b.times)-1]
	r.count += len(b.times)
	return sideBySide(r.units, readOn, func(k int, u *unit) error {
		u.through(b, func(at time.Time) { r.collect(k, at, u) })
		return ctx.Err()
	})
}

// collect keeps the changes of one evaluation of unit k.
func (r *replay) collect(k int, at time.Time, u *unit) {
	if !u.result.Changed {
		return
	}
	for _, c := range changesOf(at, u) {
		r.out[k] = append(r.out[k], c)
		r.episodes[k].Add(&c)
	}
}

// drain returns the changes of all units since the last call, by time.
func (r *replay) drain() []Change {
	var all []Change
	for k := range r.out {
		all = append(all, r.out[k]...)
		r.out[k] = nil
	}
	slices.SortStableFunc(all, func(a, b Change) int {
		return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.Finding.Gauge, b.Finding.Gauge))
	})
	return all
}

func (r *replay) summary() Summary {
	s := Summary{From: r.from, To: r.to, Snapshots: r.count}
	for k, u := range r.units {
		s.Gauges = append(s.Gauges, summaryOf(u, &r.episodes[k]))
	}
	return s
}

func summaryOf(u *unit, x *Episodes) GaugeSummary {
	s := GaugeSummary{Gauge: u.config.Sheet.Tag, Category: string(u.result.Category), Headline: u.result.Headline, Silent: x.silences()}
	for _, e := range x.List {
		if e.Closed.IsZero() {
			s.Open++
		}
		if !e.Alerted() {
			s.Watches++
			continue
		}
		s.Alerts++
		if e.Symptom != symptom.NoReading {
			s.Told = append(s.Told, e)
		}
	}
	slices.SortStableFunc(s.Told, func(a, b Episode) int { return a.Raised.Compare(b.Raised) })
	return s
}
