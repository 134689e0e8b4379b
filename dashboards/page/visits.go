package page

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// visitsPage is the list of gauges, worst first.
type visitsPage struct {
	Shell
	Counts []count
	Visits []visit // need somebody or cannot be seen
	Good   []visit
	Seen   int // gauges with fresh samples
	Query  string
	Hidden int // by the search
}

// count is how many gauges are in one category.
type count struct {
	Badge
	N int
}

// visit is one gauge of the list.
type visit struct {
	Badge
	Tag, Service, Area string
	Link               string
	Why                string
	Since              string
	Next               string
	Bring              string // tools for the next step
	Watched            string // why what was found sends nobody yet
	Ratio              string // gap as a multiple of the budget
	Spark              template.HTML
	Level              string

	severity int
	ratio    float64
	order    int
}

func (p *Pages) visits(w http.ResponseWriter, r *http.Request) {
	block := "layout"
	if r.Header.Get("HX-Request") != "" {
		block = "list"
	}
	p.write(w, http.StatusOK, "visits", block, p.visitsPage(r))
}

func (p *Pages) visitsPage(r *http.Request) visitsPage {
	page := visitsPage{Shell: p.shell(r, navVisits, "Visits"), Query: strings.TrimSpace(r.URL.Query().Get("find"))}
	gauges, now := p.Plant.Gauges(), p.Plant.Now()
	tags := make([]string, len(gauges))
	for i, g := range gauges {
		tags[i] = g.Sheet.Tag
	}
	ratios := p.sparks.of(tags, now)
	counts := map[compare.Category]int{}
	for i, g := range gauges {
		category := g.Category(now)
		counts[category]++
		if category != compare.NotSeenCategory {
			page.Seen++
		}
		if !matches(g, page.Query) {
			page.Hidden++
			continue
		}
		v := p.visit(g, page.Units, now)
		v.order, v.Spark = i, spark(ratios[g.Sheet.Tag])
		if category == compare.GoodCategory {
			page.Good = append(page.Good, v)
		} else {
			page.Visits = append(page.Visits, v)
		}
	}
	slices.SortStableFunc(page.Visits, worse)
	page.Counts = countsOf(counts)
	return page
}

// worse orders by category, then by how far the gap is beyond its budget.
func worse(a, b visit) int {
	switch {
	case a.severity != b.severity:
		return a.severity - b.severity
	case a.ratio > b.ratio:
		return -1
	case a.ratio < b.ratio:
		return 1
	}
	return a.order - b.order
}

// watched says why a finding of the lower tier sends nobody yet.
func watched(c cause.Cause) string {
	if c == cause.NoSignal {
		return "It may come back by itself; the service page shows its source. An alert follows after a day."
	}
	return "Not sure enough to send somebody. An alert follows when it is."
}

func (p *Pages) visit(g plant.GaugeView, set units.Set, now time.Time) visit {
	category := g.Category(now)
	v := visit{
		Badge: badge(category), severity: severity(category),
		Tag: g.Sheet.Tag, Service: g.Sheet.Service, Area: g.Sheet.Area, Link: p.link(g.Sheet.Tag),
		Why: g.Result.Headline, Next: nextStep(g.Result.Next), Level: levelOf(g, set),
	}
	if category == compare.NotSeenCategory {
		v.Why, v.Since, v.Next, v.Level = p.notSeen(g, now), "", "Find out why nothing arrives; the gauge is not being compared.", "–"
		return v
	}
	if f := g.Result.Findings; len(f) > 0 && f[0].Tier == cause.Watch {
		v.Watched = watched(f[0].Cause)
	}
	if v.Next != "" {
		if tests := p.Plant.Settle(g.Sheet.Tag); len(tests) > 0 {
			v.Bring = strings.Join(tests[0].Tools, ", ")
		}
	}
	if len(g.Result.Findings) > 0 && !g.Result.Findings[0].Since.IsZero() {
		v.Since = "since " + p.Zone.Short(g.Result.Findings[0].Since, now) + " (" + times.Span(now.Sub(g.Result.Findings[0].Since)) + ")"
	}
	v.ratio = worstRatio(&g.Result.Measurement)
	if v.ratio > 0 && !g.Result.Measurement.Isolated {
		v.Ratio = units.Fixed(v.ratio, 1) + " × allowed"
	}
	return v
}

// notSeen says since when nothing arrived and why, as far as it is known.
func (p *Pages) notSeen(g plant.GaugeView, now time.Time) string {
	text := "Not seen yet: no usable sample of a level instrument has arrived."
	if !g.LastSample.IsZero() {
		text = fmt.Sprintf("Not seen since %s (%s).", p.Zone.Short(g.LastSample, now), times.Ago(g.LastSample, now))
	}
	if g.Trouble == "" {
		return text
	}
	return strings.TrimSuffix(text, ".") + ": " + strings.TrimSuffix(g.Trouble, ".") + "."
}

// levelOf writes the level of the first instrument that gives one and is not
// blamed.
func levelOf(g plant.GaugeView, set units.Set) string {
	m := &g.Result.Measurement
	blamed := map[string]bool{}
	for _, f := range g.Result.Findings {
		blamed[string(f.Suspect)] = true
	}
	switch {
	case m.Float.OK() && !blamed["float"] && !blamed["follower"]:
		return set.LengthWith(m.Float.Value, m.Float.U())
	case m.Transmitter.OK() && !blamed["transmitter"]:
		return set.LengthWith(m.Transmitter.Value, m.Transmitter.U())
	case m.Second.OK():
		return set.LengthWith(m.Second.Value, m.Second.U())
	}
	return "–"
}

func worstRatio(m *gauge.Measurement) float64 {
	worst := 0.0
	for i := range m.Gaps {
		worst = max(worst, m.Gaps[i].Ratio())
	}
	return worst
}

func countsOf(n map[compare.Category]int) []count {
	var counts []count
	for _, c := range []compare.Category{compare.Failure, compare.FunctionCheck, compare.OutOfSpec, compare.MaintenanceDue, compare.NotSeenCategory, compare.GoodCategory} {
		if n[c] > 0 {
			counts = append(counts, count{badge(c), n[c]})
		}
	}
	return counts
}

// matches reports whether a part of the tag, service or area was asked for.
func matches(g plant.GaugeView, query string) bool {
	if query == "" {
		return true
	}
	query = strings.ToLower(query)
	return strings.Contains(strings.ToLower(g.Sheet.Tag+"\n"+g.Sheet.Service+"\n"+g.Sheet.Area), query)
}

// find goes straight to a gauge when only one matches.
func (p *Pages) find(w http.ResponseWriter, r *http.Request) {
	query := strings.TrimSpace(r.URL.Query().Get("find"))
	var found []string
	for _, g := range p.Plant.Gauges() {
		if strings.EqualFold(g.Sheet.Tag, query) {
			found = []string{g.Sheet.Tag}
			break
		}
		if query != "" && matches(g, query) {
			found = append(found, g.Sheet.Tag)
		}
	}
	if len(found) == 1 {
		http.Redirect(w, r, p.link(found[0]), http.StatusSeeOther)
		return
	}
	http.Redirect(w, r, p.Base+"/?"+r.URL.RawQuery, http.StatusSeeOther)
}
