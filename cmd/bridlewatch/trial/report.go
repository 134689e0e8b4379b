package trial

import (
	"fmt"
	"math"
	"slices"
	"time"

	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/trials"
)

func newReport(o *Options, w *own, faults []scenario.Fault, times []time.Time, attempts []*attempt) *trials.Report {
	r := &trials.Report{
		Gauge: o.Gauge.Sheet.Tag, From: w.from, To: w.to, Snapshots: w.snapshots, Seed: o.Seed, Watch: tenth(o.Watch.Hours()),
		LimitMM: tenth(w.limit.Millimetres()), Own: []trials.Own{}, Cautions: trials.Cautions(),
	}
	for i := range w.findings.List {
		if e := &w.findings.List[i]; e.Alerted() {
			r.Own = append(r.Own, trials.Own{Alert: e.Raised, Closed: e.Closed, Symptom: string(e.Symptom), Blamed: blamed(e.Suspect, e.Tag), Sentence: e.Sentence})
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
	trials.Conclude(r)
	return r
}

func trialOf(a *attempt) trials.Trial {
	t := trials.Trial{
		Fault: a.fault.Text(), At: a.onset, Watched: tenth(max(0, a.last.Sub(a.onset).Hours())), Changed: a.put.changed,
		MovedMM: tenth(a.graft.Moved().Millimetres()), Events: a.events,
	}
	if t.Events == nil {
		t.Events = []trials.Event{}
	}
	if !a.watched.IsZero() {
		v := tenth(a.watched.Sub(a.onset).Hours())
		t.Watch = &v
	}
	if !a.alerted.IsZero() {
		v := tenth(a.alerted.Sub(a.onset).Hours())
		t.Alert = &v
		t.Verdict, t.Blamed, t.Cause, t.Said = a.verdict, who(&a.finding), string(a.finding.Cause), a.finding.Sentence
	}
	return t
}

func rowOf(f scenario.Fault, attempts []*attempt, limit float64) trials.Row {
	row := trials.Row{Fault: f.Text(), Kind: string(f.Kind), Instrument: attempts[0].tag, Blamed: map[string]int{}, Size: attempts[0].graft.Size()}
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
func delayOf(hours []float64) *trials.Delay {
	if len(hours) == 0 {
		return nil
	}
	slices.Sort(hours)
	n := len(hours)
	return &trials.Delay{Median: tenth((hours[(n-1)/2] + hours[n/2]) / 2), Worst: tenth(hours[n-1])}
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
	why := []string{fmt.Sprintf("missed in %d, watched for at most %s", len(missed), trials.Days(longest))}
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
