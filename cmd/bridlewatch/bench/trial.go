package bench

import (
	"context"
	"slices"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/scenario"
)

// Attribution is judged this long after the first alert.
var judgedAfter = [...]time.Duration{6 * time.Hour, 24 * time.Hour, 72 * time.Hour}

// outcome is what one trial showed.
type outcome struct {
	years      float64
	vessel     bool
	alerts     []episode      // every alert raised, before and after onset
	watches    int            // findings that began below an alert, healthy time only
	watchKinds map[string]int // the same by symptom

	// Faults only; durations since onset, negative: never.
	watch, alert   time.Duration
	warning        float64 // drifts: days from the alert until the error is 25 mm
	varies         float64 // how far the liquid may move a healthy gap of float and transmitter within weeks, mm, at the onset; 0: no gap
	moves, crosses int     // excitation until the alert
	passes         int     // of the faulty point by the level until the alert
	exercised      bool    // the fault could show: a faulty point was passed often enough, and the gauge did not say it is blind to it
	judged         [len(judgedAfter)]judgement
	baselines      []time.Duration // by baseline and threshold, negative: never
	falseCounts    []int           // the same, episodes in healthy time
	comparable     bool            // there is a float and a transmitter to compare
}

// episode is one alert.
type episode struct {
	ID       string        `json:"id"`
	At       time.Duration `json:"after_ns"`
	Symptom  string        `json:"symptom"`
	Cause    cause.Cause   `json:"cause"`
	Suspect  cause.Suspect `json:"suspect"`
	Sentence string        `json:"sentence"`
	Value    float64       `json:"value_mm"`
	Budget   float64       `json:"budget_mm"`
	false_   bool          // raised before the onset of the fault
}

// judgement is the attribution at one instant.
type judgement struct {
	made, decided, right, exact, covers bool
	size                                int
	suspect                             cause.Suspect
	cause                               cause.Cause
}

// runTrial runs one trial through Evaluate.
func runTrial(ctx context.Context, t *scenario.Trial) (outcome, error) {
	unit, err := t.Unit()
	if err != nil {
		return outcome{}, err
	}
	g, err := compare.New(*t.Sheet)
	if err != nil {
		return outcome{}, err
	}
	r := &runner{
		trial: t, unit: unit, gauge: g, faults: t.Faults(),
		out:    outcome{vessel: t.Sheet.Vessel != nil, watch: -1, alert: -1, watchKinds: map[string]int{}, comparable: t.Sheet.Transmitter != nil},
		faulty: faultyPoint(t),
	}
	if t.Record != nil {
		r.feed = scenario.NewTape(unit, t.Record, t.Options.Seed)
	} else {
		r.feed, r.alarm = scenario.NewFeed(unit, t.Every, t.Options.Seed), newAlarms()
	}
	r.out.exercised = r.faulty < 0
	for i := 0; ; i++ {
		if i%4096 == 0 && ctx.Err() != nil {
			return outcome{}, ctx.Err()
		}
		if finished, err := r.scan(); finished || err != nil {
			r.finish()
			return r.out, err
		}
	}
}

// path is how the comparison sees a unit.
type path interface {
	Next() (time.Time, gauge.Snapshot, error)
	Now() time.Time // the true time of the newest scan
}

// runner is one trial under way.
type runner struct {
	trial *scenario.Trial
	unit  *scenario.Unit
	gauge *compare.Gauge
	feed  path
	state compare.State
	out   outcome
	alarm *alarms // nil: a record, on which no baseline runs

	faults []scenario.Fault

	seen    []string // findings that were open before the onset
	blamed  string   // finding of the first alert after onset
	last    cause.Finding
	next    int                       // index into judgedAfter
	anchor  float64                   // of the present move, metres
	above   [datasheet.MaxPoints]bool // the level is above each point
	faulty  int                       // index of the point the fault happens to; -1: none
	passes  int                       // how often the level passed it since the onset
	side    int                       // the side of it the level was last clearly on, +1 or -1; 0: not yet
	started bool

	day         int64 // since the Unix epoch
	days, blind int   // since the onset, and those on which the gauge said it could not see the fault
}

// scan makes one scan and reports whether the trial is over.
func (r *runner) scan() (bool, error) {
	now, s, err := r.feed.Next()
	if err != nil {
		return true, err
	}
	since := r.feed.Now().Sub(scenario.Start)
	faulty := r.trial.Onset > 0 && since >= r.trial.Onset
	result := r.gauge.Evaluate(now, &s, &r.state)
	r.excite(faulty)
	if faulty {
		r.tell(now)
	} else {
		r.out.varies = r.state.Allow[gauge.FloatTransmitter].Weeks
	}
	if r.alarm != nil {
		r.alarm.add(since, faulty, since-r.trial.Onset, &result.Measurement)
	}
	if result.Changed {
		r.note(since, faulty, &result)
	}
	if r.out.alert >= 0 {
		r.judge(since-r.trial.Onset-r.out.alert, result.Findings)
	}
	return since >= r.trial.Length || r.next == len(judgedAfter) && (r.alarm == nil || r.alarm.settled(since-r.trial.Onset)), nil
}

// note keeps what opened, rose and closed.
func (r *runner) note(since time.Duration, faulty bool, result *compare.Result) {
	for _, list := range [][]cause.Finding{result.Opened, result.Upgraded} {
		for i := range list {
			f := &list[i]
			if faulty && r.out.watch < 0 && !slices.Contains(r.seen, f.ID) {
				r.out.watch = since - r.trial.Onset
			}
			if f.Tier != cause.Alert {
				if !faulty && !slices.Contains(r.seen, f.ID) {
					r.out.watches++
					r.out.watchKinds[string(f.Symptom)]++
				}
				if !faulty {
					r.seen = append(r.seen, f.ID)
				}
				continue
			}
			if !faulty {
				r.seen = append(r.seen, f.ID)
			}
			r.raise(since, faulty, f)
		}
	}
	for i := range result.Closed {
		if result.Closed[i].ID == r.blamed {
			r.last = clone(&result.Closed[i])
		}
	}
}

// raise keeps a finding that became an alert.
func (r *runner) raise(since time.Duration, faulty bool, f *cause.Finding) {
	if slices.ContainsFunc(r.out.alerts, func(e episode) bool { return e.ID == f.ID }) {
		return
	}
	r.out.alerts = append(r.out.alerts, episode{
		ID: f.ID, At: since, Symptom: string(f.Symptom), Cause: f.Cause, Suspect: f.Suspect, Sentence: f.Sentence,
		Value: f.Value.Millimetres(), Budget: f.Budget.Millimetres(), false_: !faulty,
	})
	if told := r.out.alerts[len(r.out.alerts)-1].told(r.trial); faulty && r.out.alert < 0 && (!told || r.faults[0].Kind == scenario.SignalLost) {
		r.out.alert, r.out.passes = since-r.trial.Onset, r.passes
		if fault := r.faults[0]; isDrift(fault.Kind) {
			r.out.warning = 25e-3/fault.Size/86400 - r.out.alert.Hours()/24
		}
		if r.out.watch < 0 || r.out.watch > r.out.alert {
			r.out.watch = r.out.alert
		}
		r.blamed, r.last = f.ID, clone(f)
	}
}

// judge compares the finding of the first alert with the fault when its time
// has come.
func (r *runner) judge(after time.Duration, open []cause.Finding) {
	if r.next == len(judgedAfter) || after < judgedAfter[r.next] {
		return
	}
	for i := range open {
		if open[i].ID == r.blamed {
			r.last = clone(&open[i])
		}
	}
	switch {
	case r.trial.Record != nil:
		r.out.judged[r.next] = judgeWell(&r.last, &r.faults[0])
	case len(r.faults) > 1:
		r.out.judged[r.next] = judgeBoth(append(slices.Clone(open), r.last), r.faults[0].Kind, r.faults[1].Kind)
	default:
		r.out.judged[r.next] = judgeFinding(&r.last, r.faults[0].Kind)
	}
	r.next++
}

// finish judges what is left at the end of the trial by the last that was
// said.
func (r *runner) finish() {
	r.out.exercised = r.out.exercised && 2*r.blind <= r.days
	r.out.years = min(r.feed.Now().Sub(scenario.Start), r.trial.Length).Hours() / 24 / 365.25
	if r.trial.Onset > 0 {
		r.out.years = r.trial.Onset.Hours() / 24 / 365.25
	}
	if r.alarm != nil {
		r.out.baselines, r.out.falseCounts = r.alarm.results()
	}
}

func clone(f *cause.Finding) cause.Finding {
	out := *f
	out.Set = slices.Clone(f.Set)
	out.Evidence = nil
	return out
}
