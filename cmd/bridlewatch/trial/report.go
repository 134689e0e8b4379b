package trial

import (
	"fmt"
	"math"
	"slices"
	"time"

	"bridlewatch/compare/scenario"
)

// Report is what the trials of one gauge showed.
type Report struct {
	Gauge     string    `json:"gauge"`
	From      time.Time `json:"from"`
	To        time.Time `json:"to"`
	Snapshots int       `json:"snapshots"`
	Seed      uint64    `json:"seed"`
	Watch     float64   `json:"watch_hours"`
	Own       []Own     `json:"own_alerts"` // what the history itself raises
	OwnPer    float64   `json:"own_alerts_per_year"`
	LimitMM   float64   `json:"allowed_gap_mm"`
	Times     []string  `json:"times"`
	Rows      []Row     `json:"faults"`
	Trials    []Trial   `json:"trials"`
	Sentences []string  `json:"conclusions"`
	Cautions  []string  `json:"cautions"`
}

// Own is an alert the history raises without a fault put in.
type Own struct {
	Alert    time.Time `json:"alert"`
	Closed   time.Time `json:"closed,omitzero"`
	Symptom  string    `json:"symptom"`
	Blamed   string    `json:"blamed"`
	Sentence string    `json:"sentence"`
}

// Row is one fault in one size.
type Row struct {
	Fault      string         `json:"fault"` // as --fault reads it
	Kind       string         `json:"kind"`
	Instrument string         `json:"instrument,omitempty"`
	Trials     int            `json:"trials"`
	NoEffect   int            `json:"no_effect"` // trials in which it changed no reading; they count nowhere else
	Found      int            `json:"found"`
	Watch      *Delay         `json:"watch,omitempty"` // until the first finding
	Alert      *Delay         `json:"alert,omitempty"`
	Right      int            `json:"named_right"`
	InSet      int            `json:"in_the_set"`
	Outside    int            `json:"not_in_the_set"`
	Wrong      int            `json:"named_wrong"`
	Blamed     map[string]int `json:"blamed,omitempty"` // who was blamed wrongly
	Why        []string       `json:"why_not_found,omitempty"`

	kind scenario.Kind
	size float64
}

// Delay is how long it took, of the trials in which it came.
type Delay struct {
	Median float64 `json:"median_hours"`
	Worst  float64 `json:"worst_hours"`
}

// Trial is one fault at one time.
type Trial struct {
	Fault   string    `json:"fault"`
	At      time.Time `json:"at"`
	Watched float64   `json:"watched_hours"` // how long, until the history raised an alert by itself or it was judged
	Changed int       `json:"changed_samples"`
	MovedMM float64   `json:"mean_change_mm"`
	Watch   *float64  `json:"watch_hours,omitempty"`
	Alert   *float64  `json:"alert_hours,omitempty"`
	Verdict string    `json:"named,omitempty"`
	Blamed  string    `json:"blamed,omitempty"`
	Cause   string    `json:"cause,omitempty"`
	Said    string    `json:"sentence,omitempty"`
	Events  []Event   `json:"events"`
}

func newReport(o *Options, w *own, faults []scenario.Fault, times []time.Time, attempts []*attempt) *Report {
	r := &Report{
		Gauge: o.Gauge.Sheet.Tag, From: w.from, To: w.to, Snapshots: w.snapshots, Seed: o.Seed, Watch: tenth(o.Watch.Hours()),
		LimitMM: tenth(w.limit.Millimetres()), Own: []Own{}, Cautions: cautions,
	}
	for i := range w.findings.List {
		if e := &w.findings.List[i]; e.Alerted() {
			r.Own = append(r.Own, Own{e.Raised, e.Closed, string(e.Symptom), blamed(e.Suspect, e.Tag), e.Sentence})
		}
	}
	if years := w.to.Sub(w.from).Hours() / 24 / 365.25; years > 0 {
		r.OwnPer = tenth(float64(len(r.Own)) / years)
	}
	for _, at := range times {
		r.Times = append(r.Times, at.UTC().Format(time.RFC3339))
	}
	for _, f := range faults {
		var mine []*attempt
		for _, a := range attempts {
			if a.fault == f {
				mine = append(mine, a)
				r.Trials = append(r.Trials, trialOf(a))
			}
		}
		if len(mine) > 0 {
			r.Rows = append(r.Rows, rowOf(f, mine, r.LimitMM))
		}
	}
	r.Sentences = conclude(r)
	return r
}

func trialOf(a *attempt) Trial {
	t := Trial{
		Fault: a.fault.Text(), At: a.onset, Watched: tenth(max(0, a.last.Sub(a.onset).Hours())), Changed: a.put.changed,
		MovedMM: tenth(a.graft.Moved().Millimetres()), Events: a.events,
	}
	if t.Events == nil {
		t.Events = []Event{}
	}
	if !a.watched.IsZero() {
		v := tenth(a.watched.Sub(a.onset).Hours())
		t.Watch = &v
	}
	if !a.alerted.IsZero() {
		v := tenth(a.alerted.Sub(a.onset).Hours())
		t.Alert = &v
		t.Verdict, t.Blamed, t.Cause, t.Said = string(a.verdict), who(&a.finding), string(a.finding.Cause), a.finding.Sentence
	}
	return t
}

func rowOf(f scenario.Fault, attempts []*attempt, limit float64) Row {
	row := Row{Fault: f.Text(), Kind: string(f.Kind), Instrument: attempts[0].tag, Blamed: map[string]int{}, kind: f.Kind, size: attempts[0].graft.Size()}
	var watch, alert []float64
	var missed []*attempt
	for _, a := range attempts {
		if !a.counts() {
			row.NoEffect++
			continue
		}
		row.Trials++
		if !a.watched.IsZero() {
			watch = append(watch, a.watched.Sub(a.onset).Hours())
		}
		if a.alerted.IsZero() {
			missed = append(missed, a)
			continue
		}
		row.Found++
		alert = append(alert, a.alerted.Sub(a.onset).Hours())
		switch a.verdict {
		case right:
			row.Right++
		case inSet:
			row.InSet++
		case outside:
			row.Outside++
		case wrong:
			row.Wrong++
			row.Blamed[who(&a.finding)]++
		}
	}
	row.Watch, row.Alert = delayOf(watch), delayOf(alert)
	row.Why = whyMissed(missed, limit)
	return row
}

// delayOf is nil where nothing came.
func delayOf(hours []float64) *Delay {
	if len(hours) == 0 {
		return nil
	}
	slices.Sort(hours)
	n := len(hours)
	return &Delay{Median: tenth((hours[(n-1)/2] + hours[n/2]) / 2), Worst: tenth(hours[n-1])}
}

// whyMissed says what is known of trials without an alert: how much the fault
// changed beside the gap that is allowed, how long it could be watched, and
// what the gauge says it cannot see.
func whyMissed(missed []*attempt, limit float64) []string {
	if len(missed) == 0 {
		return nil
	}
	most, longest, watched, changed := 0.0, time.Duration(0), 0, 0
	spots := map[string]int{}
	var order []string
	for _, a := range missed {
		most, longest = max(most, a.graft.Moved().Millimetres()), max(longest, a.last.Sub(a.onset))
		changed += a.put.changed
		if !a.watched.IsZero() {
			watched++
		}
		for _, b := range a.blind {
			text := b.What + ": " + b.Why
			if spots[text] == 0 {
				order = append(order, text)
			}
			spots[text]++
		}
	}
	why := []string{fmt.Sprintf("missed in %d, watched for at most %s", len(missed), days(longest))}
	if most == 0 { // a switch
		why[0] += fmt.Sprintf("; it changed %d readings in all", changed)
	} else {
		why[0] += fmt.Sprintf("; it changed a level by %.3g mm on average", most)
		if most < limit {
			why[0] += fmt.Sprintf(", less than the %.3g mm that are allowed", limit)
		}
	}
	if watched > 0 {
		why[0] += fmt.Sprintf("; in %d it was noted and never became an alert", watched)
	}
	slices.SortStableFunc(order, func(a, b string) int { return spots[b] - spots[a] })
	for _, text := range order[:min(len(order), 2)] {
		why = append(why, "the gauge says it cannot see "+text)
	}
	return why
}

func tenth(v float64) float64 { return math.Round(v*10) / 10 }
