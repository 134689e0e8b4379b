package page

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"time"

	"bridlewatch/dashboards/overlay"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/trend"
	"bridlewatch/dashboards/units"
)

// comparePage lays two periods of one gauge over one another, aligned at their
// starts. It is made by the service and needs no script.
type comparePage struct {
	Shell
	gaugeHead
	From, To, With string // for the fields of the form, plant time
	Under          bool
	Offers         []tab // other periods to compare with
	A, B           string
	Span, ZoneName string
	Plots          []comparePlot
	Changes        []changeRow
	Heads          []string
	Rows           []compareRow
	Step           string
	Trouble        string
}

type comparePlot struct {
	Title        string
	Wide, Narrow template.HTML
}

// changeRow is what one quantity did in both periods.
type changeRow struct{ What, A, B, Change string }

// compareRow is one stretch of both periods, by the time since their starts.
type compareRow struct {
	Since string
	Cells []string
}

// Buckets of the plots of two periods.
const comparedWidth = 400

func (p *Pages) compare(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	page := comparePage{Shell: p.shell(r, "", g.Sheet.Tag+" two periods"), gaugeHead: p.head(g, "trend"), ZoneName: p.Zone.Location.String(), Under: r.URL.Query().Get("lay") == "under"}
	status := http.StatusOK
	if err := p.fillCompare(r, g, &page); err != nil {
		page.Trouble, status = upperFirst(err.Error())+".", http.StatusUnprocessableEntity
	}
	p.write(w, status, "compare", "layout", page)
}

func (p *Pages) fillCompare(r *http.Request, g plant.GaugeView, page *comparePage) error {
	from, to, err := p.period(r)
	if err != nil {
		return err
	}
	span := to.Sub(from)
	with := from.Add(-span)
	if text := r.URL.Query().Get("with"); text != "" {
		if with, err = p.instant(text); err != nil {
			return err
		}
	}
	local := func(t time.Time) string { return t.In(p.Zone.Location).Format(fieldLayout) }
	page.From, page.To, page.With, page.Span = local(from), local(to), local(with), times.Span(span)
	page.A, page.B = p.Zone.Full(from), p.Zone.Full(with)
	page.offer(p, g.Sheet.Tag, from, to, with)
	a, b, err := p.twoCharts(r.Context(), g, from, with, span, comparedWidth)
	if err != nil {
		return fmt.Errorf("history could not be read: %w", err)
	}
	page.draw(a, b, span)
	coarse, other, err := p.twoCharts(r.Context(), g, from, with, span, tableRows)
	if err != nil {
		return fmt.Errorf("history could not be read: %w", err)
	}
	page.tabulate(coarse, other)
	return nil
}

// offer lists the periods people compare with, and the other way to lay them.
func (page *comparePage) offer(p *Pages, tag string, from, to, with time.Time) {
	link := func(with time.Time) string {
		q := url.Values{"from": {p.Zone.Machine(from)}, "to": {p.Zone.Machine(to)}, "with": {p.Zone.Machine(with)}}
		if page.Under {
			q.Set("lay", "under")
		}
		return p.link(tag, "compare") + "?" + q.Encode()
	}
	span := to.Sub(from)
	for _, o := range []struct {
		name string
		with time.Time
	}{
		{"the period before", from.Add(-span)}, {"a week earlier", from.AddDate(0, 0, -7)}, {"a month earlier", from.AddDate(0, -1, 0)}, {"a year earlier", from.AddDate(-1, 0, 0)},
	} {
		page.Offers = append(page.Offers, tab{Name: o.name, Link: link(o.with), Here: o.with.Equal(with)})
	}
}

// twoCharts reads two periods of the same length in the same number of
// buckets.
func (p *Pages) twoCharts(ctx context.Context, g plant.GaugeView, from, with time.Time, span time.Duration, width int) (a, b *trend.Chart, err error) {
	lines := trend.Lines(g.Sheet)
	if a, err = p.trends.Chart(ctx, g.Sheet.Tag, lines, from, from.Add(span), width); err != nil {
		return nil, nil, err
	}
	b, err = p.trends.Chart(ctx, g.Sheet.Tag, lines, with, with.Add(span), width)
	return a, b, err
}

// draw makes a plot of every quantity but the points and what is allowed, and
// says how its mean has changed.
func (page *comparePage) draw(a, b *trend.Chart, span time.Duration) {
	if a.Empty() && b.Empty() {
		return
	}
	for i := range a.Columns {
		if a.Columns[i].Kind == trend.Point || a.Columns[i].Key == "budget" || i >= len(b.Columns) {
			continue
		}
		first, second := a.Columns[i].Values(page.Units), b.Columns[i].Values(page.Units)
		plot := overlay.Plot{Title: upperFirst(a.Columns[i].Label), Unit: a.Columns[i].Unit(page.Units), Step: a.Step, Span: span, Under: page.Under}
		plot.A, plot.B = overlay.Curve{Name: page.A, Min: first.Min, Max: first.Max, Mean: first.Mean}, overlay.Curve{Name: page.B, Min: second.Min, Max: second.Max, Mean: second.Mean}
		page.Plots = append(page.Plots, comparePlot{
			Title: plot.Title + ", " + plot.Unit,
			Wide:  template.HTML(plot.SVG(overlay.Wide, "overlay wide")), Narrow: template.HTML(plot.SVG(overlay.Narrow, "overlay narrow")),
		})
		page.Changes = append(page.Changes, change(plot.Title, plot.Unit, first, second))
	}
}

// change compares the means of two periods over the buckets that have samples.
func change(what, unit string, a, b trend.Values) changeRow {
	row := changeRow{What: what, A: "–", B: "–", Change: "–"}
	meanA, low, high, okA := a.Summary()
	if okA {
		row.A = spread(meanA, low, high, unit)
	}
	meanB, low, high, okB := b.Summary()
	if okB {
		row.B = spread(meanB, low, high, unit)
	}
	if okA && okB {
		row.Change = units.Fixed(meanA-meanB, 1) + units.NoBreak + unit
		if meanA-meanB >= 0.05 {
			row.Change = "+" + row.Change
		}
	}
	return row
}

func spread(mean, low, high float64, unit string) string {
	return units.Fixed(mean, 1) + units.NoBreak + unit + " (" + units.Fixed(low, 1) + " … " + units.Fixed(high, 1) + ")"
}

// tabulate sets both periods beside one another in a few rows.
func (page *comparePage) tabulate(a, b *trend.Chart) {
	page.Step = times.Span(a.Step)
	for _, c := range a.Columns {
		page.Heads = append(page.Heads, c.Label)
	}
	if a.Empty() && b.Empty() {
		return
	}
	for j := range a.Time {
		row := compareRow{Since: times.Span(time.Duration(j) * a.Step)}
		for i, c := range a.Columns {
			other := "–"
			if i < len(b.Columns) && j < len(b.Time) {
				other = cell(b.Columns[i], j, page.Units)
			}
			row.Cells = append(row.Cells, cell(c, j, page.Units), other)
		}
		page.Rows = append(page.Rows, row)
	}
}
