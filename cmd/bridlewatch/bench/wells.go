package bench

import (
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/scenario"
)

// wells are the records of stilling wells in a plan.
type wells struct {
	kinds  []scenario.Well
	faults []scenario.Cell
	first  int // of their trials; each kind and each fault has as many as the options say
}

// OfWells is how the names of what is about wells begin.
const OfWells = "wells, "

// Well is the healthy records of one kind of stilling well.
type Well struct {
	Kind   string   `json:"kind"`
	Months float64  `json:"gauge_months"`
	Alerts int      `json:"alert_episodes"`
	Rate   Interval `json:"per_gauge_month"`
	Told   int      `json:"missing_readings_told"` // alerts about readings that were missing, which are true
}

// WellFault is one fault put into records of every kind.
type WellFault struct {
	Name   string `json:"fault"`
	Trials int    `json:"trials"`
	Found  int    `json:"found"`
	Right  int    `json:"right"` // the instrument and no other, three days after the alert
	Covers int    `json:"in_the_set"`
	Wrong  int    `json:"wrong"` // another instrument
	False  int    `json:"false_alerts_before"`
	Alert  Delay  `json:"alert_h"`
}

func (p *plan) planWells() {
	p.wells.first = len(p.trials)
	if p.options.Wells <= 0 {
		return
	}
	for _, w := range scenario.Wells() {
		if p.options.Only(OfWells + w.Name) {
			p.add(scenario.WellTrials(p.options.Set, w, p.options.Wells), -1, -1)
			p.wells.kinds = append(p.wells.kinds, w)
		}
	}
	for _, c := range scenario.WellFaults() {
		if p.options.Only(OfWells + c.Name()) {
			p.add(scenario.WellFaultTrials(p.options.Set, c, p.options.Wells), -1, -1)
			p.wells.faults = append(p.wells.faults, c)
		}
	}
}

// judgeWell compares a finding with the fault of a record: as judgeFinding,
// but of two transmitters it must be the right one. Without a switch nothing
// tells a float from its follower, so either is right where no other remains.
func judgeWell(f *cause.Finding, fault *scenario.Fault) judgement {
	j := judgeFinding(f, fault.Kind)
	right := answers[fault.Kind].suspect
	if f.Blamed() == cause.EitherOfFloat && (right == cause.Float || right == cause.Follower) {
		j.decided, j.right, j.covers = true, true, true
	}
	if right != cause.Transmitter && right != cause.Signal {
		return j
	}
	j.covers = slices.ContainsFunc(f.Set, func(r cause.Ranked) bool { return r.Nats >= -cause.Decisive && r.Blames(right, fault.Part) })
	j.right = j.right && f.Tag == fault.Part
	j.covers = j.covers || j.right
	return j
}

// told reports whether an alert says what is true of a record: that readings
// are missing.
func (e *episode) told(t *scenario.Trial) bool { return t.Record != nil && e.Suspect == cause.Signal }

// reportWells turns the outcomes of records into figures.
func (p *plan) reportWells(results []outcome) (kinds []Well, faults []WellFault) {
	at := p.wells.first
	next := func() []outcome {
		mine := results[at : at+p.options.Wells]
		at += p.options.Wells
		return mine
	}
	trial := func(o []outcome, i int) *scenario.Trial { return &p.trials[at-len(o)+i] }
	for _, k := range p.wells.kinds {
		w, mine := Well{Kind: k.Name}, next()
		for i := range mine {
			w.Months += mine[i].years * 12
			wrong := falseIn(mine[i].alerts, trial(mine, i))
			w.Alerts += wrong
			w.Told += len(mine[i].alerts) - wrong
		}
		w.Rate = garwood(w.Alerts, w.Months)
		kinds = append(kinds, w)
	}
	for _, c := range p.wells.faults {
		f, mine := WellFault{Name: c.Name(), Trials: p.options.Wells}, next()
		var delays []float64
		for i := range mine {
			f.False += falseIn(mine[i].alerts, trial(mine, i))
			if mine[i].alert < 0 {
				continue
			}
			f.Found++
			delays = append(delays, hours(mine[i].alert))
			j := mine[i].judged[len(judgedAfter)-1]
			f.count(&j)
		}
		f.Alert = delay(delays, f.Trials-f.Found)
		faults = append(faults, f)
	}
	return kinds, faults
}

// falseIn counts alerts that were raised while nothing was wrong.
func falseIn(alerts []episode, t *scenario.Trial) (n int) {
	for i := range alerts {
		if alerts[i].false_ && !alerts[i].told(t) {
			n++
		}
	}
	return n
}

func (f *WellFault) count(j *judgement) {
	switch {
	case j.right:
		f.Right++
	case j.decided:
		f.Wrong++
	}
	if j.covers {
		f.Covers++
	}
}

// wells prints the figures of stilling wells.
func (t *table) wells(r *Report) {
	if len(r.Wells) > 0 {
		t.line("\nStilling wells, healthy\ngauge-months\talerts\tper gauge-month (95 %%)\tmissing readings told\tkind of record")
		var all Well
		for _, w := range r.Wells {
			t.well(&w)
			all.Months, all.Alerts, all.Told = all.Months+w.Months, all.Alerts+w.Alerts, all.Told+w.Told
		}
		all.Kind, all.Rate = "all", garwood(all.Alerts, all.Months)
		t.well(&all)
	}
	if len(r.WellFaults) == 0 {
		return
	}
	t.line("\nStilling wells with a fault; names three days after the alert\nfound\tright\tin the set\twrong\talert h, median and 90 %% point\tfalse alerts before\tfault")
	all := WellFault{Name: "all"}
	for _, f := range r.WellFaults {
		t.line("%d/%d\t%d\t%d\t%d\t%s\t%d\t%s", f.Found, f.Trials, f.Right, f.Covers, f.Wrong, f.Alert, f.False, f.Name)
		all.Found, all.Trials, all.Right, all.Covers = all.Found+f.Found, all.Trials+f.Trials, all.Right+f.Right, all.Covers+f.Covers
		all.Wrong, all.False = all.Wrong+f.Wrong, all.False+f.False
	}
	t.line("%d/%d\t%d\t%d\t%d\t\t%d\t%s", all.Found, all.Trials, all.Right, all.Covers, all.Wrong, all.False, all.Name)
}

func (t *table) well(w *Well) {
	t.line("%.1f\t%d\t%.3f (%.3f to %.3f)\t%d\t%s", w.Months, w.Alerts, w.Rate.Value, w.Rate.Low, w.Rate.High, w.Told, w.Kind)
}
