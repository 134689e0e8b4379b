package bench

import (
	"math"
	"slices"

	"bridlewatch/compare/scenario"
	"bridlewatch/compare/sequential"
)

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

func against(o []outcome, b, step int, tuned string) Against {
	a := Against{Name: baselines[b].Name, TunedTo: tuned, MedianH: Number(math.NaN())}
	if step >= steps {
		a.Detected = clopperPearson(0, len(o))
		return a
	}
	var at, ours []float64
	n := 0
	for i := range o {
		if !o[i].comparable {
			continue
		}
		n++
		if o[i].alert >= 0 {
			ours = append(ours, hours(o[i].alert))
		}
		if first := o[i].baselines[b*(steps+1)+step+1]; first >= 0 {
			at = append(at, hours(first))
		}
	}
	a.Detected, a.MedianH = clopperPearson(len(at), n), Number(quantile(at, n-len(at), 0.5))
	a.ours, a.oursH = clopperPearson(len(ours), n).Value, quantile(ours, n-len(ours), 0.5)
	return a
}

// beat counts for each tuned baseline the kinds of fault we find more often,
// or as often and sooner, in every size.
func (r *Report) beat() {
	for i := range r.Baselines {
		line := &r.Baselines[i]
		kinds, lost := map[scenario.Kind]bool{}, map[scenario.Kind]bool{}
		for _, f := range r.Faults {
			if f.Group != ladder {
				continue
			}
			kinds[f.Kind] = true
			at := slices.IndexFunc(f.Against, func(a Against) bool { return a.Name == line.Name && a.TunedTo == line.TunedTo })
			if f.Against[at].beats() {
				lost[f.Kind] = true
				line.Not = append(line.Not, f.Name)
			}
		}
		line.Faults, line.Beaten = len(kinds), len(kinds)-len(lost)
	}
}

// beats reports whether a baseline finds the fault more often than we do, or
// as often and sooner, on the gauges that have the gap it looks at.
func (a *Against) beats() bool {
	switch d := a.Detected.Value - a.ours; {
	case d > 1e-9:
		return true
	case d < -1e-9:
		return false
	}
	return float64(a.MedianH) < a.oursH
}
