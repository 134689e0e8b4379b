package page

import (
	"html/template"
	"net/http"
	"strings"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/drawing"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// gaugePage is everything about one gauge now.
type gaugePage struct {
	Shell
	gaugeHead
	Live          gaugeLive
	Before, After *neighbour // in the configuration; nil: none
	Record        *recordRow // the newest; nil: none
	Records       string     // address of all of them
	UnderWay      bool       // a guided test
	Zone          string
	TrendData     string // address of the plotted data
}

// gaugeHead is what every page of a gauge has on top.
type gaugeHead struct {
	Tag, Service, Area string
	Tabs               []tab
}

// neighbour is the gauge before or after in the configuration.
type neighbour struct{ Tag, Service, Link string }

// tab leads to another page of the same gauge.
type tab struct {
	Name, Link, Key string
	Here            bool
}

// gaugeLive is the part that is sent again after every comparison.
type gaugeLive struct {
	Badge
	Tag        string
	Headline   string
	Next       string
	Believe    *beliefView // nil: no level is in doubt
	AsOf       string
	Sampled    string
	Stale      bool
	Wide       template.HTML
	Narrow     template.HTML
	Gap        *gapView
	Pairs      []pairRow
	Readings   []readingRow
	Conditions []condition
	Limits     []gauge.Limit
	Findings   []findingView
	Isolated   bool
	SettleLink string // "" when there is no test to show
}

// gapView is the gap of the first pair that can be compared, magnified.
type gapView struct {
	Pair, Words, Verdict string
	Over                 bool
	Bar                  template.HTML
}

// pairRow is one comparison.
type pairRow struct {
	What, Gap, Allowed string
	Outcome            compare.Outcome
	Class              string
	Reasons            string
}

// readingRow is one instrument as it was sampled.
type readingRow struct {
	Tag, Role, Raw, Value, Quality, Age string
	Bad                                 bool
}

// condition is one quantity of the service with what is behind it.
type condition struct{ Name, Value, Note string }

func (p *Pages) gauge(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	shell := p.shell(r, "", g.Sheet.Tag)
	page := gaugePage{Shell: shell, gaugeHead: p.head(g, ""), Live: p.live(g, shell.Units), Zone: p.Zone.Location.String()}
	page.Before, page.After = p.neighbours(g.Sheet.Tag)
	page.TrendData = p.link(g.Sheet.Tag, "trend.json") + "?last=24h&units=" + shell.Units.Name + plotWidth
	page.Early = page.TrendData
	p.fillLastRecord(r.Context(), &page)
	p.write(w, http.StatusOK, "gauge", "layout", page)
}

// gaugePages are the pages of a gauge with the key that opens each.
var gaugePages = []struct{ name, path, key string }{
	{"Gauge", "", "g"}, {"Trend", "trend", "t"}, {"Settle it", "settle", "s"}, {"Proven", "proven", "e"}, {"Blind spots", "blind", "b"}, {"Trial", "trial", "f"},
	{"Prove", "prove", "d"}, {"New record", "record", "n"},
}

// head makes what stands on top of every page of the gauge.
func (p *Pages) head(g plant.GaugeView, here string) gaugeHead {
	tag := g.Sheet.Tag
	h := gaugeHead{Tag: tag, Service: g.Sheet.Service, Area: g.Sheet.Area}
	for _, t := range gaugePages {
		h.Tabs = append(h.Tabs, tab{Name: t.name, Key: t.key, Link: strings.TrimSuffix(p.link(tag, t.path), "/"), Here: t.path == here})
	}
	return h
}

// neighbours returns the gauges beside this one in the configuration.
func (p *Pages) neighbours(tag string) (before, after *neighbour) {
	gauges := p.Plant.Gauges()
	beside := func(i int) *neighbour {
		if i < 0 || i >= len(gauges) {
			return nil
		}
		s := gauges[i].Sheet
		return &neighbour{s.Tag, s.Service, p.link(s.Tag)}
	}
	for i, g := range gauges {
		if g.Sheet.Tag == tag {
			return beside(i - 1), beside(i + 1)
		}
	}
	return nil, nil
}

// live makes the part of the page that changes with every comparison.
func (p *Pages) live(g plant.GaugeView, set units.Set) gaugeLive {
	now := p.Plant.Now()
	category := g.Category(now)
	l := gaugeLive{
		Badge: badge(category), Tag: g.Sheet.Tag, Headline: g.Result.Headline, Next: nextStep(g.Result.Next),
		AsOf: p.Zone.Full(now), Sampled: p.ago(g.LastSample, now), Stale: category == compare.NotSeenCategory,
		Isolated: g.Result.Measurement.Isolated, Limits: g.Result.Measurement.OutsideDataSheet,
	}
	scene := drawing.Of(g, now, set)
	scene.Proven = p.Plant.Proven(g.Sheet.Tag)
	if l.Stale {
		l.Headline, l.Next = p.notSeen(g, now), ""
		scene.Note = "Last sample " + l.Sampled + "."
	}
	l.Wide, l.Narrow = picture("wide", scene, drawing.Wide), picture("narrow", scene, drawing.Narrow)
	for _, reading := range g.Readings {
		l.Readings = append(l.Readings, readingOf(reading, set))
	}
	if l.Stale {
		return l
	}
	l.Believe = p.beliefOf(g, set)
	l.Gap = gapOf(&g.Result, set)
	l.Pairs = pairsOf(g, set)
	l.Conditions = p.conditionsOf(g, set)
	for _, f := range cause.Distinct(g.Result.Findings) {
		l.Findings = append(l.Findings, p.finding(f, set, now))
	}
	if len(l.Findings) > 0 && len(p.Plant.Settle(g.Sheet.Tag)) > 0 {
		l.SettleLink = p.link(g.Sheet.Tag, "settle")
	}
	return l
}

// picture draws a scene as an element. The style sheet shows the wide or the
// narrow one, by the room there is.
func picture(prefix string, s drawing.Scene, size drawing.Size) template.HTML {
	svg := drawing.SVG{Prefix: prefix, Class: "wide"}
	if size == drawing.Narrow {
		svg.Class = "narrow"
	}
	if s.Stale {
		svg.Class += " stale"
	}
	drawing.Draw(&svg, s, size)
	return template.HTML(svg.String())
}

// gapOf picks the pair worth magnifying: the one with the greatest ratio.
func gapOf(r *compare.Result, set units.Set) *gapView {
	best := gauge.Pairs
	for pair := range gauge.Pairs {
		if g := r.Measurement.Gaps[pair]; g.OK && (best == gauge.Pairs || g.Ratio() > r.Measurement.Gaps[best].Ratio()) {
			best = pair
		}
	}
	if best == gauge.Pairs {
		return nil
	}
	g := r.Measurement.Gaps[best]
	svg := drawing.SVG{Prefix: "gap", Class: "gapbar"}
	drawing.GapBar(&svg, g, best, set, 520)
	return &gapView{Pair: best.String(), Words: drawing.GapWords(g, set), Over: g.Ratio() > 1, Bar: template.HTML(svg.String())}
}

func pairsOf(g plant.GaugeView, set units.Set) []pairRow {
	var rows []pairRow
	for _, v := range g.Result.Verdicts {
		row := pairRow{Outcome: v.Outcome, Class: strings.ReplaceAll(string(v.Outcome), " ", "-"), Reasons: strings.Join(v.Reasons, "; ")}
		switch {
		case v.Point >= 0 && v.Point < len(g.Sheet.Points): // the pair means nothing then
			point := g.Sheet.Points[v.Point]
			row.What = point.Tag + " at " + set.Length(point.Elevation)
			row.Gap = g.Result.Measurement.Points[v.Point].String()
		case v.Point < 0 && v.Pair < gauge.Pairs:
			row.What = v.Pair.String()
			if gap := g.Result.Measurement.Gaps[v.Pair]; gap.OK {
				row.Gap, row.Allowed = set.Signed(gap.Value), "± "+set.LengthFine(gap.Budget)
			}
		default:
			continue
		}
		rows = append(rows, row)
	}
	return rows
}

func readingOf(r plant.InstrumentReading, set units.Set) readingRow {
	row := readingRow{Tag: r.Tag, Role: string(r.Role), Quality: r.Quality.String(), Age: "just now", Bad: !r.Usable()}
	if r.Age >= time.Second {
		row.Age = times.Span(r.Age)
	}
	if r.Reason != 0 {
		row.Quality += ": " + r.Reason.String()
	}
	row.Raw, row.Value = "–", "–"
	if r.Usable() {
		row.Raw = units.Raw(r.Raw, r.Unit)
		row.Value = set.SIValue(r.Value, r.SI)
	}
	return row
}

// aboveCondition is what stands above the level: gas, or in interface service
// the lighter liquid.
func aboveCondition(sheet *datasheet.Sheet, gas quantity.Density, set units.Set) condition {
	if sheet.Fluid.Upper != nil {
		return condition{"Upper liquid density", set.Density(gas), ""}
	}
	if gas == 0 {
		return condition{"Gas density", "none counted", "the data sheet gives no gas above the liquid"}
	}
	return condition{"Gas density", set.Density(gas), ""}
}

// reserveNote says what the float's reserve is a ratio of.
func reserveNote(sheet *datasheet.Sheet) string {
	if sheet.Fluid.Upper != nil {
		return "volume of the float over its part in the lower liquid"
	}
	return "liquid density over the density at which the float sinks"
}

func (p *Pages) conditionsOf(g plant.GaugeView, set units.Set) []condition {
	m := &g.Result.Measurement
	note := "measured"
	if m.Assumed {
		note = "from the data sheet where not measured"
	}
	rows := []condition{
		{"Pressure", set.Pressure(m.PressureUsed), note},
		{"Temperature, vessel", set.Temperature(m.TemperatureUsed), note},
		{"Temperature, chamber", set.Temperature(m.ChamberTempUsed), ""},
	}
	if m.DensityOK {
		rows = append(rows,
			condition{"Liquid density, chamber", set.DensityWith(m.Liquid, m.LiquidU), "float built for " + set.Density(g.Sheet.Float.BuiltFor)},
			condition{"Liquid density, vessel", set.Density(m.VesselLiquid), ""},
			aboveCondition(g.Sheet, m.Gas, set),
			condition{"Float reserve", units.Fixed(m.FloatReserve, 2) + " ×", reserveNote(g.Sheet)},
		)
	}
	return append(rows, p.besideGlass(g, set)...)
}
