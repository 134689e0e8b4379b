package page

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/symptom"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// plantPage is the reliability engineer's month: which gauges keep coming
// back, and what they have in common.
type plantPage struct {
	Shell
	Gauges  []gaugeRecord
	Factors []factor
	Span    string // of the history; "" when it has hardly begun
	Short   bool   // too short for a rate
	Trouble string
}

// gaugeRecord is one gauge over a year.
type gaugeRecord struct {
	Badge
	Tag, Service, Link, Make string
	Month, Year              int    // episodes
	InAlert                  string // of the last 30 days
	Drift                    string
	Unproven                 string

	alert time.Duration
}

// factor is what some gauges have in common and how they fare.
type factor struct {
	Name   string
	Values []factorValue
}

type factorValue struct {
	Value    string
	Gauges   int
	Episodes int
	PerYear  string
	Width    int // of 100
}

const year = 365 * 24 * time.Hour

// leastSpan is the history below which a rate per year says nothing.
const leastSpan = 30 * 24 * time.Hour

func (p *Pages) plantPage(w http.ResponseWriter, r *http.Request) {
	page := plantPage{Shell: p.shell(r, navPlant, "Plant")}
	if err := p.fillPlant(r.Context(), &page); err != nil {
		page.Trouble = upperFirst(err.Error())
	}
	p.write(w, http.StatusOK, "plant", "layout", page)
}

func (p *Pages) fillPlant(ctx context.Context, page *plantPage) error {
	now := p.Plant.Now()
	episodes, err := p.findings.since(ctx, now.Add(-year))
	byGauge := map[string][]episode{}
	for _, e := range episodes {
		byGauge[e.Gauge] = append(byGauge[e.Gauge], e)
	}
	gauges := p.Plant.Gauges()
	for _, g := range gauges {
		page.Gauges = append(page.Gauges, p.yearOf(g, byGauge[g.Sheet.Tag], page.Units, now))
	}
	slices.SortStableFunc(page.Gauges, func(a, b gaugeRecord) int {
		if a.Year != b.Year {
			return b.Year - a.Year
		}
		return int(b.alert.Minutes()) - int(a.alert.Minutes())
	})
	span := watchedSpan(p.Plant.Health(), now)
	page.Span, page.Short = times.Span(span), span <= leastSpan
	page.Factors = factors(gauges, byGauge, span)
	return err
}

// watchedSpan is for how long there is history, at most a year.
func watchedSpan(h plant.Health, now time.Time) time.Duration {
	since := h.Store.Oldest
	if since.IsZero() {
		since = h.Started
	}
	if since.IsZero() || since.After(now) {
		return 0
	}
	return min(now.Sub(since), year)
}

func (p *Pages) yearOf(g plant.GaugeView, episodes []episode, set units.Set, now time.Time) gaugeRecord {
	month := now.Add(-30 * 24 * time.Hour)
	r := gaugeRecord{Badge: badge(g.Category(now)), Tag: g.Sheet.Tag, Service: g.Sheet.Service, Link: p.link(g.Sheet.Tag), Make: makeOf(g.Sheet), Year: len(episodes), InAlert: "–", Drift: "–", Unproven: "–"}
	for _, e := range episodes {
		if e.Raised.After(month) {
			r.Month++
		}
		if e.Tier == cause.Alert {
			r.alert += overlap(e.Raised, e.Cleared, month, now)
		}
	}
	if r.alert > 0 {
		r.InAlert = times.Span(r.alert)
	}
	for _, f := range g.Result.Findings {
		if f.Symptom == symptom.GapDrift && f.RatePerD != 0 {
			r.Drift = set.Signed(f.RatePerD*30.4) + "/month"
		}
	}
	if at := newestProof(p.Plant, g.Sheet.Tag); !at.IsZero() {
		r.Unproven = times.Ago(at, now)
	}
	return r
}

// overlap is how much of [from, to) lies within the window; an open end is now.
func overlap(from, to, start, now time.Time) time.Duration {
	if to.IsZero() || to.After(now) {
		to = now
	}
	if from.Before(start) {
		from = start
	}
	return max(0, to.Sub(from))
}

func newestProof(p plant.Plant, tag string) (at time.Time) {
	for _, proof := range p.Proven(tag) {
		if proof.At.After(at) {
			at = proof.At
		}
	}
	return at
}

// makeOf says in a few words what a gauge is made of.
func makeOf(s *datasheet.Sheet) string {
	parts := []string{string(s.Float.Follower)}
	if s.Transmitter != nil {
		parts = append(parts, strings.ReplaceAll(string(s.Transmitter.Principle), "-", " "))
	}
	parts = append(parts, string(s.Chamber.ConnectionStyle))
	return strings.Join(parts, ", ")
}

// factors counts episodes by what gauges have in common. A factor with one
// value only, or with another value for every gauge, explains nothing and is
// left out.
func factors(gauges []plant.GaugeView, byGauge map[string][]episode, span time.Duration) []factor {
	kinds := []struct {
		name  string
		value func(*datasheet.Sheet) string
	}{
		{"Fluid", func(s *datasheet.Sheet) string { return s.Fluid.Name }},
		{"Follower", func(s *datasheet.Sheet) string { return string(s.Float.Follower) }},
		{"Transmitter", func(s *datasheet.Sheet) string {
			if s.Transmitter == nil {
				return "none"
			}
			return strings.ReplaceAll(string(s.Transmitter.Principle), "-", " ")
		}},
		{"Connections", func(s *datasheet.Sheet) string { return string(s.Chamber.ConnectionStyle) }},
		{"Insulation", func(s *datasheet.Sheet) string { return s.Chamber.Insulation }},
		{"Area", func(s *datasheet.Sheet) string { return s.Area }},
	}
	var list []factor
	for _, k := range kinds {
		if f := factorOf(k.name, k.value, gauges, byGauge, span); len(f.Values) > 1 && f.shared() {
			list = append(list, f)
		}
	}
	return list
}

// shared reports whether a value belongs to several gauges.
func (f factor) shared() bool {
	return slices.ContainsFunc(f.Values, func(v factorValue) bool { return v.Gauges > 1 })
}

func factorOf(name string, value func(*datasheet.Sheet) string, gauges []plant.GaugeView, byGauge map[string][]episode, span time.Duration) factor {
	f := factor{Name: name}
	most := 0.0
	rates := map[string]float64{}
	for _, g := range gauges {
		v := value(g.Sheet)
		if v == "" {
			v = "not stated"
		}
		at := slices.IndexFunc(f.Values, func(x factorValue) bool { return x.Value == v })
		if at < 0 {
			f.Values = append(f.Values, factorValue{Value: v})
			at = len(f.Values) - 1
		}
		f.Values[at].Gauges++
		f.Values[at].Episodes += len(byGauge[g.Sheet.Tag])
	}
	for i := range f.Values {
		x := &f.Values[i]
		x.PerYear = "–"
		if span > leastSpan {
			rates[x.Value] = float64(x.Episodes) / float64(x.Gauges) * float64(year) / float64(span)
			x.PerYear, most = units.Fixed(rates[x.Value], 1), max(most, rates[x.Value])
		}
	}
	for i := range f.Values {
		if most > 0 {
			f.Values[i].Width = int(100 * rates[f.Values[i].Value] / most)
		}
	}
	slices.SortStableFunc(f.Values, func(a, b factorValue) int { return b.Width - a.Width })
	return f
}
