package page

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"

	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/units"
)

// settlePage asks what would settle which instrument is wrong.
type settlePage struct {
	Shell
	gaugeHead
	Findings []settleFinding
	Tests    []testView
	One      bool // one cause remains: the tests confirm it
}

// settleFinding sets the causes that remain against what was seen.
type settleFinding struct {
	Heading, Sentence string
	Causes            []rankedRow
	Rows              []observation
	Inseparable       string
}

// observation is one line of the ledger, with what it says to each cause.
type observation struct {
	When, Sentence string
	Cells          []fit
}

// fit says whether a cause would have made us see what was seen.
type fit struct{ Sign, Words, Class string }

var (
	fits   = fit{"+", "fits", "fits"}
	denies = fit{"−", "does not fit", "denies"}
	silent = fit{"·", "says nothing", "silent"}
)

// testView is something a person can do.
type testView struct {
	Name, Splits    string
	Minutes         int
	Steps, Cautions []string
	Tools, Permit   string
	Outcomes        []outcomeView
}

type outcomeView struct{ Seen, Means string }

// mostCauses is how many causes stand side by side.
const mostCauses = 5

func (p *Pages) settle(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	tag := g.Sheet.Tag
	page := settlePage{Shell: p.shell(r, "", tag+" settle it"), gaugeHead: p.head(g, "settle")}
	for _, f := range cause.Distinct(g.Result.Findings) {
		page.Findings = append(page.Findings, p.settleFinding(f))
	}
	page.One = len(worstSet(g.Result.Findings)) == 1
	for _, t := range p.Plant.Settle(tag) {
		page.Tests = append(page.Tests, testOf(t, worstSet(g.Result.Findings)))
	}
	p.write(w, http.StatusOK, "settle", "layout", page)
}

func (p *Pages) settleFinding(f cause.Finding) settleFinding {
	now := p.Plant.Now()
	set := cause.Likeliest(f.Set)[:min(len(f.Set), mostCauses)]
	s := settleFinding{Heading: findingHeading(f), Sentence: f.Sentence}
	if f.Cause != cause.TwoFaults && !f.More { // several of those that are there at once are not to be told apart
		s.Inseparable = inseparable(f.Set)
	}
	for _, r := range set {
		s.Causes = append(s.Causes, ranked(r))
	}
	for _, e := range f.Evidence {
		o := observation{When: p.Zone.Short(e.From, now), Sentence: e.Sentence}
		for _, r := range set {
			o.Cells = append(o.Cells, fitOf(e, r.Cause))
		}
		s.Rows = append(s.Rows, o)
	}
	return s
}

func fitOf(e cause.Evidence, c cause.Cause) fit {
	switch {
	case slices.Contains(e.For, c):
		return fits
	case slices.Contains(e.Against, c):
		return denies
	}
	return silent
}

// inseparable says plainly when the data cannot tell the likeliest causes
// apart: a name is given only at odds of twenty to one.
func inseparable(set []cause.Ranked) string {
	var open []string
	for _, r := range set {
		if r.Probability*20 > set[0].Probability {
			open = append(open, causeWords(r.Cause))
		}
	}
	if len(open) < 2 {
		return ""
	}
	return "The data so far cannot tell " + strings.Join(open[:len(open)-1], ", ") + " and " + open[len(open)-1] + " apart."
}

// worstSet is the set the tests are about: that of the worst finding that has
// one.
func worstSet(findings []cause.Finding) []cause.Ranked {
	for _, f := range findings {
		if len(f.Set) > 0 {
			return f.Set
		}
	}
	return nil
}

// narrows says what a test is expected to do to the number of causes that
// remain: the exponential of their entropy before and after.
func narrows(set []cause.Ranked, nats float64) string {
	total, entropy := 0.0, 0.0
	for _, r := range set {
		total += r.Probability
	}
	for _, r := range set {
		if q := r.Probability / total; q > 0 {
			entropy -= q * math.Log(q)
		}
	}
	if entropy <= 0 || nats <= 0 {
		return ""
	}
	if entropy-nats < 0.05 {
		return "Whatever it shows, one cause is left."
	}
	return fmt.Sprintf("About %s causes are open now, weighed by how likely they are; after it %s on average.", causeCount(entropy), causeCount(entropy-nats))
}

// causeCount writes the exponential of an entropy as a number of causes.
func causeCount(entropy float64) string { return units.Fixed(max(1, math.Exp(entropy)), 1) }

func testOf(t cause.Test, set []cause.Ranked) testView {
	v := testView{
		Name: upperFirst(t.Name), Minutes: t.Minutes, Steps: t.Steps, Cautions: t.Cautions, Permit: t.Permit, Tools: strings.Join(t.Tools, ", "),
		Splits: narrows(set, t.Splits),
	}
	for _, o := range t.Outcomes {
		means := "none of the causes that remain"
		if len(o.Means) > 0 {
			means = causesWords(o.Means, nil)
		}
		v.Outcomes = append(v.Outcomes, outcomeView{o.Seen, means})
	}
	return v
}
