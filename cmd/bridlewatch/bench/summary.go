package bench

import (
	"slices"

	"bridlewatch/compare/scenario"
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
	r.Wells, r.WellFaults = p.reportWells(results)
	r.Goals = r.goals(len(p.cells) == len(scenario.Ladder()))
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

func (p *plan) fault(cell int, results []outcome, tuned [][len(tunings)]int) Fault {
	c := p.cells[cell]
	mine := of(results, p.cell, cell)
	all := len(mine)
	mine = slices.DeleteFunc(mine, func(o outcome) bool { return !o.exercised && o.alert < 0 })
	f := Fault{Name: c.Name(), Kind: c.Kind, Group: groupOf(&c), Trials: len(mine), Idle: all - len(mine), sample: mine}
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
			warning = append(warning, o.warning)
		}
	}
	missed := len(mine) - found
	f.Detected = clopperPearson(found, len(mine))
	f.Watch, f.Alert = delay(watch, len(mine)-len(watch)), delay(alert, missed)
	f.Moves, f.Crossings = delay(moves, missed), delay(crosses, missed)
	if isDrift(c.Kind) {
		d := delay(negated(warning), missed)
		f.Warning = Delay{-d.Median, -d.P90}
	}
	if c.Kind == scenario.TransmitterZero || c.Kind == scenario.FollowerShifted {
		f.OverCusum = Number(float64(f.Alert.Median) / matchedDelay(c.Size*1e3))
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

func delay(values []float64, misses int) Delay {
	return Delay{Number(quantile(values, misses, 0.5)), Number(quantile(values, misses, 0.9))}
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
