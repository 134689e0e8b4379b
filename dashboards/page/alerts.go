package page

import (
	"context"
	"net/http"
	"time"

	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// alertsPage shows what is open, who has it and what is kept quiet.
type alertsPage struct {
	Shell
	Tabs    []tab
	View    string
	Desk    bool // alerts can be handled here
	Form    actForm
	Alerts  []alertRow
	Journal []journalRow
	Load    *alertLoad
	Windows []windowRow
	Routes  []routeRow
	Done    string
	Trouble string
}

// alertRow is one alert of a list.
type alertRow struct {
	Badge
	plant.Alert
	Link, One, RaisedWords, UntilWords, StateWords, HidesWords string
}

// handling is what the form of one alert needs.
type handling struct {
	ID, Here string
	Form     actForm
}

// Handle returns what the form of the alert needs; what was filled in stays
// with the alert it was filled in for.
func (a alertRow) Handle(form actForm, here string) handling {
	if form.Alert != a.ID {
		form.Why, form.To, form.For = "", "", ""
	}
	return handling{a.ID, here, form}
}

type journalRow struct{ Time, Gauge, Link, What, Sentence, By string }

const (
	journalSpan  = 30 * 24 * time.Hour
	journalLimit = 300
)

// alertViews are the parts of the page; those that need a desk are marked.
var alertViews = []struct {
	name, view string
	desk       bool
}{{"Open", "", false}, {"Kept quiet", "quiet", false}, {"Journal", "journal", false}, {"Load", "load", false}, {"Ways out", "routes", true}}

func (p *Pages) alerts(w http.ResponseWriter, r *http.Request) {
	p.writeAlerts(w, r, http.StatusOK, r.URL.Query().Get("view"), actForm{}, "")
}

// writeAlerts renders a view of the alerts, after a failed action with what
// was filled in and why it failed.
func (p *Pages) writeAlerts(w http.ResponseWriter, r *http.Request, status int, view string, form actForm, trouble string) {
	_, desk := p.desk()
	handled := desk && !p.ReadOnly
	form.AskName, form.Base = desk && p.Actor == nil, p.Base
	if form.By == "" {
		form.By = p.nameOf(r)
	}
	page := alertsPage{Shell: p.shell(r, navAlerts, "Alerts"), View: view, Desk: handled, Form: form, Trouble: trouble, Done: done[r.URL.Query().Get("done")]}
	if status != http.StatusOK {
		page.Done = ""
	}
	for _, t := range alertViews {
		if t.desk && !desk {
			continue
		}
		link := p.Base + "/alerts"
		if t.view != "" {
			link += "?view=" + t.view
		}
		page.Tabs = append(page.Tabs, tab{Name: t.name, Link: link, Here: t.view == view})
		if t.view == view {
			page.Shell.Here = link
		}
	}
	if err := p.fillAlerts(r.Context(), &page); err != nil && page.Trouble == "" {
		page.Trouble = upperFirst(err.Error())
	}
	p.write(w, status, "alerts", "layout", page)
}

func (p *Pages) fillAlerts(ctx context.Context, page *alertsPage) (err error) {
	switch page.View {
	case "journal":
		page.Journal, err = p.journal(ctx, p.Plant.Now().Add(-journalSpan), "")
		return err
	case "load":
		page.Load, err = p.load(ctx)
		return err
	case "routes":
		page.Routes, err = p.routes(ctx)
		return err
	case "quiet":
		if page.Alerts, err = p.alertRows(p.Alerts.Quiet(ctx)); err == nil {
			page.Windows, err = p.windows(ctx)
		}
		return err
	}
	page.Alerts, err = p.alertRows(p.Alerts.Open(ctx))
	return err
}

func (p *Pages) alertRows(list []plant.Alert, err error) ([]alertRow, error) {
	now := p.Plant.Now()
	var rows []alertRow
	for _, a := range list {
		rows = append(rows, p.alertRow(a, now))
	}
	return rows, err
}

func (p *Pages) alertRow(a plant.Alert, now time.Time) alertRow {
	a.Next = nextStep(a.Next)
	row := alertRow{Alert: a, Link: p.link(a.Gauge), RaisedWords: p.ago(a.Raised, now), StateWords: a.State}
	if _, ok := p.desk(); ok {
		row.One = p.oneAlert(a.ID)
	}
	if g, ok := p.Plant.Gauge(a.Gauge); ok {
		row.Badge = badge(g.Category(now))
	}
	if !a.Acknowledged.IsZero() {
		row.StateWords += " " + p.Zone.Short(a.Acknowledged, now)
	}
	if a.By != "" {
		row.StateWords += " by " + a.By
	}
	if a.Latched && !a.Returned.IsZero() {
		row.StateWords += ", waits for a visit"
	}
	if !a.Until.IsZero() {
		row.UntilWords = p.Zone.Short(a.Until, now) + ", " + times.Ago(a.Until, now)
	}
	if a.Hides > 0 {
		row.HidesWords = "explains " + units.Fixed(float64(a.Hides), 0) + " more"
	}
	return row
}

// journal lists what happened since a time, of one alert or of all.
func (p *Pages) journal(ctx context.Context, since time.Time, id string) ([]journalRow, error) {
	lines, err := p.Alerts.Journal(ctx, since, p.Plant.Now().Add(time.Hour), journalLimit)
	var rows []journalRow
	for _, l := range lines {
		if id != "" && l.Alert != id {
			continue
		}
		row := journalRow{Time: p.Zone.Full(l.Time), Gauge: l.Gauge, What: l.What, Sentence: l.Sentence, By: l.By}
		if l.Gauge != "" {
			row.Link = p.link(l.Gauge)
		}
		rows = append(rows, row)
	}
	return rows, err
}
