package bench

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/scenario"
	"bridlewatch/compare/sequential"
)

// report turns outcomes into figures.
func (p *plan) report(results []outcome) *Report {
	r := &Report{Set: p.options.Set, Every: p.options.Every.Seconds()}
	for i := range p.classes {
		r.Healthy = append(r.Healthy, p.healthy(i, results))
	}
	tuned := p.tune(r, results)
	for i := range p.cells {
		r.Faults = append(r.Faults, p.fault(i, results, tuned))
	}
	r.attribute(p, results)
	r.beat()
	r.Oddities = p.oddities(results)
	return r
}

// of collects the outcomes that belong to a class or a cell.
func of(results []outcome, index []int, wanted int) []outcome {
	var out []outcome
	for i := range results {
		if index[i] == wanted {
			out = append(out, results[i])
		}
	}
	return out
}

func (p *plan) healthy(class int, results []outcome) Healthy {
	h := Healthy{Class: p.classes[class].Name}
	mine := of(results, p.class, class)
	watches, comparableYears := 0, 0.0
	for _, o := range mine {
		h.Years += o.years
		h.Episodes += len(o.alerts)
		watches += o.watches
		for kind, n := range o.watchKinds {
			if h.WatchKinds == nil {
				h.WatchKinds = map[string]int{}
			}
			h.WatchKinds[kind] += n
		}
		if len(o.alerts) > 0 {
			h.Gauges++
		}
		if o.comparable {
			comparableYears += o.years
		}
	}
	h.Rate, h.Upper, h.Watches = garwood(h.Episodes, h.Years), upperRate(h.Episodes, h.Years), float64(watches)/h.Years
	for b := range baselines {
		h.Baselines = append(h.Baselines, Rate{baselines[b].Name, garwood(falseAlarms(mine, b, -1), comparableYears)})
	}
	return h
}

// falseAlarms counts the false episodes of a baseline at a step of its ladder.
func falseAlarms(o []outcome, b, step int) int {
	n := 0
	for i := range o {
		n += o[i].falseCounts[b*(steps+1)+step+1]
	}
	return n
}

// tunings are the healthy service a baseline may be tuned to: the benign one
// the faults are tried in, as if the plant were known to be so, and all of
// them, which is what the core has to be quiet in.
var tunings = [...]string{"benign service", "all services"}

// tune finds for each baseline and tuning the lowest threshold that keeps the
// budget; steps when there is none.
func (p *plan) tune(r *Report, results []outcome) [][len(tunings)]int {
	tuned := make([][len(tunings)]int, len(baselines))
	for k := range tunings {
		mine, years := p.quiet(results, k == 0)
		for b := range baselines {
			line := Baseline{Name: baselines[b].Name, TunedTo: tunings[k], Default: baselines[b].Default, Tuned: Number(math.NaN())}
			tuned[b][k] = steps
			for step := 0; step < steps && years > 0; step++ {
				if n := falseAlarms(mine, b, step); float64(n) <= tunedTo*years {
					tuned[b][k], line.Tuned, line.TunedRate = step, Number(baselines[b].threshold(step)), garwood(n, years)
					break
				}
			}
			r.Baselines = append(r.Baselines, line)
		}
	}
	return tuned
}

// quiet collects the healthy trials a baseline can be tuned on, and their
// gauge-years.
func (p *plan) quiet(results []outcome, benignOnly bool) ([]outcome, float64) {
	var mine []outcome
	years := 0.0
	for i := range results {
		class := p.class[i]
		if class < 0 || !results[i].comparable || benignOnly && p.classes[class].Name != scenario.Benign().Name {
			continue
		}
		mine = append(mine, results[i])
		years += results[i].years
	}
	return mine, years
}

func (p *plan) fault(cell int, results []outcome, tuned [][len(tunings)]int) Fault {
	c := p.cells[cell]
	mine := of(results, p.cell, cell)
	f := Fault{Name: c.Name(), Kind: c.Kind, Trials: len(mine), sample: mine}
	var watch, alert, moves, crosses, warning []float64
	found := 0
	for _, o := range mine {
		if o.watch >= 0 {
			watch = append(watch, hours(o.watch))
		}
		if o.alert < 0 {
			continue
		}
		found++
		alert, moves, crosses = append(alert, hours(o.alert)), append(moves, float64(o.moves)), append(crosses, float64(o.crosses))
		if isDrift(c.Kind) {
			warning = append(warning, 25e-3/c.Size/86400-hours(o.alert)/24)
		}
	}
	missed := len(mine) - found
	f.Detected = clopperPearson(found, len(mine))
	f.WatchHours = Number(quantile(watch, len(mine)-len(watch), 0.5))
	f.MedianH, f.P90H = Number(quantile(alert, missed, 0.5)), Number(quantile(alert, missed, 0.9))
	f.Moves, f.Crossings = Number(quantile(moves, missed, 0.5)), Number(quantile(crosses, missed, 0.5))
	if isDrift(c.Kind) {
		f.Warning = Number(-quantile(negated(warning), missed, 0.5))
	}
	if c.Kind == scenario.TransmitterZero {
		f.Efficiency = Number(matchedDelay(c.Size*1e3) / float64(f.MedianH))
	}
	for k := range judgedAfter {
		f.Named[k] = named(mine, k)
	}
	for b := range baselines {
		f.Against = append(f.Against, against(mine, b, -1, ""))
		for k := range tunings {
			f.Against = append(f.Against, against(mine, b, tuned[b][k], tunings[k]))
		}
	}
	return f
}

func isDrift(k scenario.Kind) bool {
	return k == scenario.TransmitterDrift || k == scenario.FloatHeavier
}

func negated(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = -v[i]
	}
	return out
}

// matchedDelay is the mean delay in hours of the CUSUM matched to a shift, on
// ten-minute means with 1.5 mm of noise, at one false alarm in a hundred
// gauge-years: what noise alone would allow.
func matchedDelay(shift float64) float64 {
	const noise, blocks = 1.5, 100 * 365.25 * 144
	k := shift / noise / 2
	h := 0.0
	for h = 0.1; sequential.TwoSided(sequential.Siegmund(k, h, 0), sequential.Siegmund(k, h, 0)) < blocks; h += 0.05 {
	}
	return math.Max(1, sequential.Siegmund(k, h, 2*k)) / 6
}

// named summarises the attribution at one instant.
func named(o []outcome, k int) Named {
	var n Named
	var decided, right, exact, covers, size int
	for i := range o {
		j := o[i].judged[k]
		if !j.made {
			continue
		}
		n.Judged++
		size += j.size
		for _, c := range []struct {
			is bool
			to *int
		}{{j.decided, &decided}, {j.right, &right}, {j.exact, &exact}, {j.covers, &covers}} {
			if c.is {
				*c.to++
			}
		}
	}
	share := func(a, b int) float64 {
		if b == 0 {
			return 0
		}
		return float64(a) / float64(b)
	}
	n.Decided, n.Right, n.Exact = share(decided, n.Judged), share(right, decided), share(exact, n.Judged)
	n.Covers, n.Size = share(covers, n.Judged), share(size, n.Judged)
	return n
}

func against(o []outcome, b, step int, tuned string) Against {
	a := Against{Name: baselines[b].Name, TunedTo: tuned, MedianH: Number(math.NaN())}
	if step >= steps {
		a.Detected = clopperPearson(0, len(o))
		return a
	}
	var at []float64
	n := 0
	for i := range o {
		if !o[i].comparable {
			continue
		}
		n++
		if first := o[i].baselines[b*(steps+1)+step+1]; first >= 0 {
			at = append(at, hours(first))
		}
	}
	a.Detected, a.MedianH = clopperPearson(len(at), n), Number(quantile(at, n-len(at), 0.5))
	return a
}

// attribute adds the attribution over all faults, with and without a level on
// the vessel, and the confusion of instruments.
func (r *Report) attribute(p *plan, results []outcome) {
	for _, vessel := range []bool{true, false} {
		var mine []outcome
		for i := range results {
			if p.cell[i] >= 0 && results[i].vessel == vessel {
				mine = append(mine, results[i])
			}
		}
		for k, after := range judgedAfter {
			a := Attributed{After: after.String(), Vessel: vessel, Named: named(mine, k)}
			a.SilentWrong = a.Decided * (1 - a.Right)
			r.Attribution = append(r.Attribution, a)
		}
	}
	r.confuse(p, results)
}

func (r *Report) confuse(p *plan, results []outcome) {
	order := []cause.Suspect{cause.Float, cause.Follower, cause.Transmitter, cause.Point, cause.Chamber, cause.Density, cause.Clock, cause.Signal}
	c := Confusion{Truth: order, Named: append(slices.Clone(order), cause.Undecided)}
	c.Count = make([][]int, len(c.Truth))
	for i := range c.Count {
		c.Count[i] = make([]int, len(c.Named))
	}
	for i := range results {
		j := results[i].judged[len(judgedAfter)-1]
		if p.cell[i] < 0 || !j.made {
			continue
		}
		truth := slices.Index(c.Truth, answers[p.cells[p.cell[i]].Kind].suspect)
		named := slices.Index(c.Named, j.suspect)
		if named < 0 {
			named = len(c.Named) - 1
		}
		c.Count[truth][named]++
	}
	r.Confusion = c
}

// beat counts for each tuned baseline the kinds of fault we find more often,
// or as often and sooner, in every size.
func (r *Report) beat() {
	for i := range r.Baselines {
		line := &r.Baselines[i]
		kinds, lost := map[scenario.Kind]bool{}, map[scenario.Kind]bool{}
		for _, f := range r.Faults {
			kinds[f.Kind] = true
			at := slices.IndexFunc(f.Against, func(a Against) bool { return a.Name == line.Name && a.TunedTo == line.TunedTo })
			if f.Against[at].beats(&f) {
				lost[f.Kind] = true
				line.Not = append(line.Not, f.Name)
			}
		}
		line.Faults, line.Beaten = len(kinds), len(kinds)-len(lost)
	}
}

// beats reports whether a baseline finds the fault more often than we do, or
// as often and sooner.
func (a *Against) beats(f *Fault) bool {
	switch d := a.Detected.Value - f.Detected.Value; {
	case d > 1e-9:
		return true
	case d < -1e-9:
		return false
	}
	return float64(a.MedianH) < float64(f.MedianH)
}

// oddities lists what went wrong, at most a dozen for each kind and name.
func (p *plan) oddities(results []outcome) []Oddity {
	var out []Oddity
	count := map[string]int{}
	add := func(o Oddity) {
		if count[o.What+o.Trial]++; count[o.What+o.Trial] <= 12 {
			out = append(out, o)
		}
	}
	for i := range results {
		t, o := &p.trials[i], &results[i]
		odd := Oddity{Trial: t.Name, Make: t.Make, Seed: fmt.Sprintf("%#x", t.Options.Seed)}
		for _, e := range o.alerts {
			if p.class[i] >= 0 || e.false_ {
				odd.What, odd.Hours = "false alert", hours(e.At)
				odd.Episode, odd.Sentence = fmt.Sprintf("%s: %s (%s), %.1f of %.1f mm", e.Symptom, e.Cause, e.Suspect, e.Value, e.Budget), e.Sentence
				add(odd)
			}
		}
		if p.cell[i] < 0 {
			continue
		}
		odd.Episode, odd.Sentence, odd.Hours = "", "", hours(t.Onset)
		if o.alert < 0 {
			odd.What = "missed"
			add(odd)
			continue
		}
		if j := o.judged[len(judgedAfter)-1]; j.made && j.decided && !j.right {
			odd.What, odd.Hours = "wrong name", hours(o.alert)
			for _, e := range o.alerts {
				if !e.false_ {
					odd.Episode, odd.Sentence = fmt.Sprintf("%s: %s (%s), named %s (%s)", e.Symptom, e.Cause, e.Suspect, j.cause, j.suspect), e.Sentence
					break
				}
			}
			add(odd)
		}
	}
	return out
}
