package trial

import (
	"hash/fnv"
	"slices"
	"time"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/trials"
)

// attempt is one fault put into history at one time.
type attempt struct {
	fault  scenario.Fault
	onset  time.Time
	until  time.Time // when the history raises an alert by itself, or the watching ends
	tag    string    // of the instrument it happens to; empty: the chamber
	float  bool      // that is the float
	course *watch.Course
	graft  *scenario.Graft
	put    *implant
	own    *own
	known  map[string]bool // findings open before

	last    time.Time // newest scan
	done    bool
	watched time.Time // first finding, zero: none
	alerted time.Time // first alert
	finding cause.Finding
	verdict verdict
	events  []trials.Event
	blind   []coverage.BlindSpot // at the end, of those not found
}

// newAttempt copies the course of the history at the onset.
func newAttempt(o *Options, w *own, base *watch.Course, f scenario.Fault, onset time.Time) (*attempt, error) {
	graft, err := scenario.NewGraft(&o.Gauge.Sheet, f, onset, seedOf(o.Seed, f, onset))
	if err != nil {
		return nil, err
	}
	course, err := base.Fork()
	if err != nil {
		return nil, err
	}
	a := &attempt{
		fault: f, onset: onset, until: onset.Add(o.Watch), tag: graft.Part(), float: graft.Part() == o.Gauge.Sheet.Float.Tag, course: course, graft: graft,
		put: newImplant(&o.Gauge, graft, w.steps), own: w, known: w.open(onset),
	}
	if quiet := w.quietUntil(onset); quiet.Before(a.until) {
		a.until = quiet
	}
	return a, nil
}

// seedOf gives each trial chance of its own, the same when it is run alone.
func seedOf(seed uint64, f scenario.Fault, onset time.Time) uint64 {
	h := fnv.New64a()
	h.Write([]byte(f.Text()))
	h.Write([]byte(onset.UTC().Format(time.RFC3339)))
	return h.Sum64() ^ seed*0x9e3779b97f4a7c15
}

// step takes the attempt through one scan.
func (a *attempt) step(at time.Time, samples []collector.Sample) {
	if a.done {
		return
	}
	if !at.Before(a.until) || !a.alerted.IsZero() && at.Sub(a.alerted) >= watch.Judged {
		a.finish()
		return
	}
	a.last = at
	if r := a.course.Step(at, a.put.apply(at, samples)); r.Changed {
		for _, c := range a.course.Changes(at) {
			a.note(&c)
		}
	}
}

// note keeps what was said.
func (a *attempt) note(c *watch.Change) {
	f := &c.Finding
	if f.ID == a.finding.ID {
		a.keep(f)
	}
	alert := f.Tier == cause.Alert
	if a.known[f.ID] && !alert || a.own.has(f) {
		return
	}
	a.events = append(a.events, trials.Event{After: tenth(c.Time.Sub(a.onset).Hours()), What: c.What, Tier: string(f.Tier), Symptom: string(f.Symptom), Blamed: who(f), Sentence: f.Sentence})
	if c.What == "closed" {
		return
	}
	if a.watched.IsZero() {
		a.watched = c.Time
	}
	if alert && a.alerted.IsZero() {
		a.alerted = c.Time
		a.keep(f)
	}
}

// keep copies the finding of the first alert.
func (a *attempt) keep(f *cause.Finding) {
	a.finding = *f
	a.finding.Set, a.finding.Evidence = slices.Clone(f.Set), nil
}

// finish judges the attempt and lets go of what it needed.
func (a *attempt) finish() {
	if a.done {
		return
	}
	a.done = true
	if a.alerted.IsZero() {
		for _, b := range a.course.Blind(a.last) {
			if b.PossibleNow && hides(b.ID, a.fault.Kind, a.tag, a.float) {
				a.blind = append(a.blind, b)
			}
		}
	} else {
		if f, ok := a.course.Finding(a.finding.ID); ok {
			a.keep(&f)
		}
		a.verdict = judge(&a.finding, a.fault.Kind, a.tag)
	}
	a.course = nil
}

// counts reports whether the trial says anything: the fault changed something.
func (a *attempt) counts() bool { return a.put.changed > 0 }
