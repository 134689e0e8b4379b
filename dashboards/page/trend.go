package page

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/trend"
	"bridlewatch/dashboards/units"
)

// trendPage is the history of one gauge over a period.
type trendPage struct {
	Shell
	gaugeHead
	Ranges     []tab
	From, To   string // for the fields of the form, plant time
	Span       string
	Data       string // address of the plotted data
	Export     string // address of the same for a spreadsheet
	Compare    string // address of the same beside another period
	ZoneName   string
	Earlier    string
	Later      string
	Rewind     rewindView
	RewindLink string
	Spans      []spanRow
	Table      trendTable
	Trouble    string
}

// trendTable is the same period in a few rows, for readers and for browsers
// without scripts.
type trendTable struct {
	Heads []string
	Rows  []trendRow
	Step  string
}

type trendRow struct {
	Time  string
	Cells []string
}

// spans are the periods offered.
var spans = []struct {
	name string
	span time.Duration
}{
	{"1 h", time.Hour}, {"8 h", 8 * time.Hour}, {"24 h", 24 * time.Hour}, {"7 d", 7 * 24 * time.Hour},
	{"30 d", 30 * 24 * time.Hour}, {"1 year", 365 * 24 * time.Hour},
}

// plotWidth is the number of buckets a plot asks for: more than most screens
// have pixels for it, and the same for all, so that the page can have the data
// sent for while the scripts still load.
const plotWidth = "&width=1200"

const (
	fieldLayout = "2006-01-02 15:04:05"
	tableRows   = 24
)

func (p *Pages) trend(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	shell := p.shell(r, "", g.Sheet.Tag+" trend")
	page := trendPage{Shell: shell, gaugeHead: p.head(g, "trend"), ZoneName: p.Zone.Location.String()}
	from, to, err := p.period(r)
	if err != nil {
		page.Trouble = err.Error()
		to = p.Plant.Now()
		from = to.Add(-24 * time.Hour)
	}
	page.fill(p, g, from, to)
	page.Table, err = p.table(r, g, from, to, shell.Units)
	if err != nil {
		page.Trouble = "History could not be read: " + err.Error() + ". Readings are still being recorded."
	}
	page.Spans = p.spanRows(r.Context(), g.Sheet.Tag, from, to)
	page.RewindLink = p.link(g.Sheet.Tag, "rewind")
	if page.Trouble == "" {
		page.Rewind, err = p.rewound(r.Context(), g, p.rewindTime(r, to), shell.Units)
	}
	if err != nil && page.Trouble == "" {
		page.Trouble = "History could not be read: " + err.Error() + "."
	}
	status := http.StatusOK
	if page.Trouble != "" {
		status = http.StatusUnprocessableEntity
	}
	p.write(w, status, "trend", "layout", page)
}

// spanRow is a finding or a record of the period in words.
type spanRow struct{ From, Lasted, Kind, Label string }

// spanRows lists findings and records of the period; the plots show the same. History
// that cannot be read is reported with the table.
func (p *Pages) spanRows(ctx context.Context, tag string, from, to time.Time) []spanRow {
	spans, err := p.annotations(ctx, tag, from, to)
	if err != nil {
		return nil
	}
	var rows []spanRow
	for _, s := range spans {
		lasted := "still there"
		switch {
		case s.To.Equal(s.From):
			lasted = ""
		case !s.To.IsZero():
			lasted = times.Span(s.To.Sub(s.From))
		}
		rows = append(rows, spanRow{p.Zone.Full(s.From), lasted, s.Kind, s.Label})
	}
	return rows
}

// rewindTime is the instant of the address, or the end of the period.
func (p *Pages) rewindTime(r *http.Request, end time.Time) time.Time {
	if at, err := p.instant(r.URL.Query().Get("at")); err == nil {
		return at
	}
	return end
}

// fill sets the period, the links to other periods and the address of the data.
func (t *trendPage) fill(p *Pages, g plant.GaugeView, from, to time.Time) {
	span, now := to.Sub(from), p.Plant.Now()
	t.From, t.To, t.Span = from.In(p.Zone.Location).Format(fieldLayout), to.In(p.Zone.Location).Format(fieldLayout), times.Span(span)
	address := func(from, to time.Time) string {
		return fmt.Sprintf("%s?from=%s&to=%s", p.link(g.Sheet.Tag, "trend"), from.UTC().Format(time.RFC3339), to.UTC().Format(time.RFC3339))
	}
	t.Earlier, t.Later = address(from.Add(-span/2), to.Add(-span/2)), address(from.Add(span/2), to.Add(span/2))
	t.Export = strings.Replace(address(from, to), "/trend?", "/trend.csv?", 1) + "&units=" + t.Units.Name
	t.Compare = strings.Replace(address(from, to), "/trend?", "/compare?", 1)
	t.Data = strings.Replace(address(from, to), "/trend?", "/trend.json?", 1) + "&units=" + t.Units.Name + plotWidth
	t.Early = t.Data
	for _, s := range spans {
		here := span == s.span && now.Sub(to).Abs() < s.span/4
		t.Ranges = append(t.Ranges, tab{Name: s.name, Link: p.link(g.Sheet.Tag, "trend") + "?last=" + s.span.String(), Here: here})
	}
}

// period reads from and to, or last, of the address; the last day when there
// is neither.
func (p *Pages) period(r *http.Request) (from, to time.Time, err error) {
	q, now := r.URL.Query(), p.Plant.Now()
	if last := q.Get("last"); last != "" {
		span, err := time.ParseDuration(last)
		if err != nil || span <= 0 {
			return from, to, fmt.Errorf("%q is not a length of time: write it like 90m or 24h", last)
		}
		return now.Add(-span), now, nil
	}
	if q.Get("from") == "" && q.Get("to") == "" {
		return now.Add(-24 * time.Hour), now, nil
	}
	if from, err = p.instant(q.Get("from")); err != nil {
		return from, to, err
	}
	if to, err = p.instant(q.Get("to")); err != nil {
		return from, to, err
	}
	if !to.After(from) {
		return from, to, &trend.PeriodError{From: from, To: to}
	}
	return from, to, nil
}

// instant reads a time with an offset, a plant time without one, or
// milliseconds since 1970 as a dashboard puts them into links.
func (p *Pages) instant(text string) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	for _, layout := range []string{fieldLayout, "2006-01-02T15:04:05", "2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02"} {
		if t, err := time.ParseInLocation(layout, text, p.Zone.Location); err == nil {
			return t, nil
		}
	}
	if ms, err := strconv.ParseInt(text, 10, 64); err == nil && ms > 1e11 {
		return time.UnixMilli(ms), nil
	}
	return time.Time{}, fmt.Errorf("%q is not a time: write it like 2026-11-25 08:05:00, or with an offset as 2026-11-25T08:05:00-06:00", text)
}

// trendData answers with the decimated period for the plots.
func (p *Pages) trendData(w http.ResponseWriter, r *http.Request) {
	g, ok := p.Plant.Gauge(r.PathValue("tag"))
	if !ok {
		http.Error(w, "there is no gauge "+strconv.Quote(r.PathValue("tag")), http.StatusNotFound)
		return
	}
	from, to, err := p.period(r)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	width := 600
	if text := r.URL.Query().Get("width"); text != "" {
		if width, err = strconv.Atoi(text); err != nil || width < trend.MinWidth || width > trend.MaxWidth {
			http.Error(w, fmt.Sprintf("width %q is not a number from %d to %d", text, trend.MinWidth, trend.MaxWidth), http.StatusBadRequest)
			return
		}
	}
	chart, err := p.trends.Chart(r.Context(), g.Sheet.Tag, trend.Lines(g.Sheet), from, to, width)
	if err != nil {
		http.Error(w, "history could not be read: "+err.Error(), http.StatusInternalServerError)
		return
	}
	if chart.Spans, err = p.annotations(r.Context(), g.Sheet.Tag, from, to); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(chart.Encode(preferencesOf(r).units)) // the reader has gone away
}

// table reads the period in a few rows.
func (p *Pages) table(r *http.Request, g plant.GaugeView, from, to time.Time, set units.Set) (trendTable, error) {
	chart, err := p.trends.Chart(r.Context(), g.Sheet.Tag, trend.Lines(g.Sheet), from, to, tableRows)
	if err != nil {
		return trendTable{}, err
	}
	t := trendTable{Step: times.Span(chart.Step)}
	if chart.Empty() {
		return t, nil
	}
	for _, c := range chart.Columns {
		t.Heads = append(t.Heads, c.Label)
	}
	for j, at := range chart.Time {
		row := trendRow{Time: p.Zone.Full(at)}
		for _, c := range chart.Columns {
			row.Cells = append(row.Cells, cell(c, j, set))
		}
		t.Rows = append(t.Rows, row)
	}
	return t, nil
}

// cell writes one bucket: the least and the greatest value when they differ.
func cell(c trend.Column, j int, set units.Set) string {
	if c.Mean[j] == nil {
		return "–"
	}
	low, high := c.Write(*c.Min[j], set), c.Write(*c.Max[j], set)
	if low == high {
		return low
	}
	return low + " … " + high
}
