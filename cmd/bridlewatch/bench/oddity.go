package bench

import (
	"fmt"

	"bridlewatch/compare/cause"
)

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
			if e.false_ && !e.told(t) {
				odd.What, odd.Hours = "false alert", hours(e.At)
				odd.Episode, odd.Sentence = fmt.Sprintf("%s: %s (%s), %.1f of %.1f mm", e.Symptom, cause.Phrase(e.Cause), e.Suspect, e.Value, e.Budget), e.Sentence
				add(odd)
			}
		}
		if t.Onset == 0 {
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
					odd.Episode, odd.Sentence = fmt.Sprintf("%s: %s (%s), named %s (%s)", e.Symptom, cause.Phrase(e.Cause), e.Suspect, cause.Phrase(j.cause), j.suspect), e.Sentence
					break
				}
			}
			add(odd)
		}
	}
	return out
}
