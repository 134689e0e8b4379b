package page

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/units"
)

// findingView is one finding with what speaks for and against it.
type findingView struct {
	Sentence, Next, WouldProve string
	Heading                    string
	Since, Tier                string
	Ranked                     []rankedRow
	Evidence                   []evidenceRow
	Hides                      string
}

type rankedRow struct {
	Cause, Suspect, Tag, Percent string
	Width                        int // of 100
}

type evidenceRow struct {
	When, Sentence, For, Against string
}

func (p *Pages) finding(f cause.Finding, set units.Set, now time.Time) findingView {
	v := findingView{
		Heading: findingHeading(f), Sentence: f.Sentence, Next: nextStep(f.Next), WouldProve: upperFirst(f.WouldProve),
		Since: p.ago(f.Since, now), Tier: string(f.Tier),
	}
	for _, r := range cause.Likeliest(f.Set) {
		v.Ranked = append(v.Ranked, ranked(r))
	}
	for _, e := range f.Evidence {
		v.Evidence = append(v.Evidence, p.evidence(e, f.Set, now))
	}
	var hides []string
	for _, h := range f.Hides {
		hides = append(hides, strings.ReplaceAll(string(h), "-", " "))
	}
	v.Hides = strings.Join(hides, ", ")
	return v
}

// findingHeading names who is to blame as far as that is known.
func findingHeading(f cause.Finding) string {
	switch {
	case f.Suspect != cause.Undecided:
		return strings.TrimSpace("Suspect: " + string(f.Suspect) + " " + f.Tag)
	case f.Cause == cause.TwoFaults && len(f.Set) == 2:
		return "Two suspects at once: " + f.Set[0].Tag + " and " + f.Set[1].Tag
	case f.Cause == cause.TwoFaults:
		return "Two faults at once, which ones is open"
	}
	for _, r := range f.Set {
		if r.Tag == "" || r.Tag != f.Set[0].Tag {
			return "Something is wrong, cause open"
		}
	}
	if len(f.Set) == 0 {
		return "Something is wrong, cause open"
	}
	return "Suspect: " + f.Set[0].Tag + ", cause open"
}

// evidence writes one line of the ledger; of the causes it speaks for, those
// that are still in question.
func (p *Pages) evidence(e cause.Evidence, set []cause.Ranked, now time.Time) evidenceRow {
	return evidenceRow{When: p.Zone.Between(e.From, e.To, now), Sentence: e.Sentence, For: causesWords(e.For, set), Against: causesWords(e.Against, set)}
}

func ranked(r cause.Ranked) rankedRow {
	return rankedRow{causeWords(r.Cause), string(r.Suspect), r.Tag, units.Chance(r.Probability), int(r.Probability*100 + 0.5)}
}

// causeWords writes a cause as people say it.
func causeWords(c cause.Cause) string {
	if c == cause.Unknown {
		return "something else"
	}
	return cause.Phrase(c)
}

// causesWords lists the causes that are in the set and counts the others.
func causesWords(cs []cause.Cause, set []cause.Ranked) string {
	var words []string
	for _, r := range set {
		if slices.Contains(cs, r.Cause) {
			words = append(words, causeWords(r.Cause))
		}
	}
	switch others := len(cs) - len(words); {
	case len(words) == 0 && others <= 3:
		for _, c := range cs {
			words = append(words, causeWords(c))
		}
	case others > 0:
		words = append(words, fmt.Sprintf("%d others that are ruled out", others))
	}
	return strings.Join(words, ", ")
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// nextStep takes the word off a next step that says it itself.
func nextStep(s string) string {
	s, said := strings.CutPrefix(s, "Next: ")
	if !said {
		return s
	}
	return upperFirst(s)
}
