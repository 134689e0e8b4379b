package trial

import (
	"context"
	"errors"
	"io"
	"math"
	"slices"
	"time"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// own is what history says without a fault put in.
type own struct {
	from, to  time.Time
	snapshots int
	findings  watch.Episodes
	gaps      [][2]time.Time
	steps     []float64       // by signal: the finest step of the raw values, 0: they never changed
	limit     quantity.Length // largest gap that is allowed between two level instruments, usually
	budgets   []quantity.Length
}

// often is after how many snapshots progress is shown.
const often = 512

// hole is how long history may be silent before it counts as interrupted.
const hole = 24 * time.Hour

// readOwn takes the whole history through the comparison.
func readOwn(ctx context.Context, o *Options) (*own, error) {
	h, err := o.Open()
	if err != nil {
		return nil, err
	}
	course, err := watch.NewCourse(o.Gauge, o.Works)
	if err != nil {
		return nil, err
	}
	w := &own{steps: make([]float64, len(o.Gauge.Signals))}
	samples, before := make([]collector.Sample, len(w.steps)), make([]collector.Sample, len(w.steps))
	for {
		now, err := h.Next(samples)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		w.pass(now)
		w.learnSteps(before, samples)
		r := course.Step(now, samples)
		if r.Changed {
			for _, c := range course.Changes(now) {
				w.findings.Add(&c)
			}
		}
		copy(before, samples)
		if w.snapshots%often == 0 {
			w.learnLimit(&r.Measurement)
			if o.Step(h); ctx.Err() != nil {
				return nil, ctx.Err()
			}
		}
	}
	if w.snapshots == 0 {
		return nil, errors.New("the history has no row that can be used")
	}
	w.settle()
	return w, nil
}

// pass notes the time of a snapshot.
func (w *own) pass(now time.Time) {
	if w.snapshots == 0 {
		w.from = now
	} else if now.Sub(w.to) > hole {
		w.gaps = append(w.gaps, [2]time.Time{w.to, now})
	}
	w.to = now
	w.snapshots++
}

// learnSteps finds how finely each raw value is written.
func (w *own) learnSteps(before, now []collector.Sample) {
	for i := range now {
		a, b := &before[i], &now[i]
		if !a.Quality.Usable() || !b.Quality.Usable() || a.Value == b.Value {
			continue
		}
		if d := math.Abs(a.Value - b.Value); w.steps[i] == 0 || d < w.steps[i] {
			w.steps[i] = d
		}
	}
}

// learnLimit notes the largest gap that is allowed now.
func (w *own) learnLimit(m *gauge.Measurement) {
	var widest quantity.Length
	for p := range m.Gaps {
		if a, _ := symptom.Members(gauge.Pair(p)); a != symptom.VesselLevel && m.Gaps[p].OK {
			widest = max(widest, m.Gaps[p].Budget)
		}
	}
	if widest > 0 {
		w.budgets = append(w.budgets, widest)
	}
}

// settle finds the limit around which sizes are chosen.
func (w *own) settle() {
	w.limit = 20 * quantity.Millimetre // a float with switches only: common practice, no source
	if n := len(w.budgets); n > 0 {
		slices.Sort(w.budgets)
		w.limit = w.budgets[n/2]
	}
}

// who is the instrument a finding names, with what is said of it.
func who(f *cause.Finding) string { return blamed(f.Blamed(), f.Tag) }

// blamed names an instrument, with what is said of it.
func blamed(by cause.Suspect, tag string) string {
	switch {
	case by == "":
		return string(cause.Undecided)
	case tag == "" || by == cause.Undecided || by == cause.EitherOfFloat:
		return string(by)
	}
	return tag + " (" + string(by) + ")"
}

// disturbs reports whether an alert of the history itself hides what a fault
// put in would show. A signal that is missing for a while does not.
func disturbs(e *watch.Episode) bool { return e.Alerted() && e.Symptom != symptom.NoReading }

// same is how far apart in time the same finding with and without a fault may
// be.
const same = time.Hour

// has reports whether the history by itself has such a finding at its time, and
// takes it as far: what it only watched and a fault makes an alert is new. Of
// signals that are missing the instrument must be the same.
func (w *own) has(f *cause.Finding) bool {
	for i := range w.findings.List {
		e := &w.findings.List[i]
		when := e.Opened
		if f.Tier == cause.Alert {
			when = e.Raised // zero: far from any
		}
		like := e.Symptom == f.Symptom && (f.Symptom != symptom.NoReading || e.Tag == f.Tag)
		if like && f.Raised.Sub(when).Abs() <= same {
			return true
		}
	}
	return false
}

// open are the findings of the history itself that are open at a time.
func (w *own) open(at time.Time) map[string]bool {
	ids := map[string]bool{}
	for i := range w.findings.List {
		e := &w.findings.List[i]
		if e.Opened.Before(at) && e.Lasts(at) {
			ids[e.ID] = true
		}
	}
	return ids
}

// quietUntil is when the history raises its next alert by itself, or ends.
func (w *own) quietUntil(at time.Time) time.Time {
	until := w.to
	for i := range w.findings.List {
		if e := &w.findings.List[i]; disturbs(e) && e.Raised.After(at) && e.Raised.Before(until) {
			until = e.Raised
		}
	}
	return until
}
