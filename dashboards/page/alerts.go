package page

import (
	"context"
	"net/http"
	"slices"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// alertsPage shows what is open, who has it and what is kept quiet.
type alertsPage struct {
	Shell
	Tabs    []tab
	View    string
	Alerts  []alertRow
	Journal []journalRow
	Load    *alertLoad
	Trouble string
}

type alertRow struct {
	Badge
	plant.Alert
	Link, RaisedWords, UntilWords, StateWords, HidesWords string
}

type journalRow struct{ Time, Gauge, Link, What, Sentence, By string }

// alertLoad is how much the alerts ask of people.
type alertLoad struct {
	Days       []dayLoad
	PerDay     string
	LongOpen   int // longer than a day
	OpenNow    int
	Worst      []worstGauge
	MostPerDay int
}

type dayLoad struct {
	Day    string
	Raised int
	Width  int // of 100
}

type worstGauge struct {
	Tag, Link string
	Raised    int
}

const (
	journalSpan  = 30 * 24 * time.Hour
	journalLimit = 300
	loadSpan     = 14 // days
)

func (p *Pages) alerts(w http.ResponseWriter, r *http.Request) {
	page := alertsPage{Shell: p.shell(r, navAlerts, "Alerts"), View: r.URL.Query().Get("view")}
	for _, t := range []struct{ name, view string }{{"Open", ""}, {"Kept quiet", "quiet"}, {"Journal", "journal"}, {"Load", "load"}} {
		link := p.Base + "/alerts"
		if t.view != "" {
			link += "?view=" + t.view
		}
		page.Tabs = append(page.Tabs, tab{Name: t.name, Link: link, Here: t.view == page.View})
	}
	if err := p.fillAlerts(r.Context(), &page); err != nil {
		page.Trouble = upperFirst(err.Error())
	}
	p.write(w, http.StatusOK, "alerts", "layout", page)
}

func (p *Pages) fillAlerts(ctx context.Context, page *alertsPage) (err error) {
	var list []plant.Alert
	switch page.View {
	case "journal":
		return p.fillJournal(ctx, page)
	case "load":
		page.Load, err = p.load(ctx)
		return err
	case "quiet":
		list, err = p.Alerts.Quiet(ctx)
	default:
		page.View = ""
		list, err = p.Alerts.Open(ctx)
	}
	now := p.Plant.Now()
	for _, a := range list {
		page.Alerts = append(page.Alerts, p.alertRow(a, now))
	}
	return err
}

func (p *Pages) alertRow(a plant.Alert, now time.Time) alertRow {
	row := alertRow{Alert: a, Link: p.link(a.Gauge), RaisedWords: p.ago(a.Raised, now), StateWords: a.State}
	if g, ok := p.Plant.Gauge(a.Gauge); ok {
		row.Badge = badge(g.Category(now))
	}
	if !a.Acknowledged.IsZero() {
		row.StateWords += " " + p.Zone.Short(a.Acknowledged, now)
	}
	if a.By != "" {
		row.StateWords += " by " + a.By
	}
	if !a.Until.IsZero() {
		row.UntilWords = p.Zone.Short(a.Until, now) + ", " + times.Ago(a.Until, now)
	}
	if a.Hides > 0 {
		row.HidesWords = "explains " + units.Fixed(float64(a.Hides), 0) + " more"
	}
	return row
}

func (p *Pages) fillJournal(ctx context.Context, page *alertsPage) error {
	now := p.Plant.Now()
	lines, err := p.Alerts.Journal(ctx, now.Add(-journalSpan), now.Add(time.Hour), journalLimit)
	for _, l := range lines {
		page.Journal = append(page.Journal, journalRow{p.Zone.Full(l.Time), l.Gauge, p.link(l.Gauge), l.What, l.Sentence, l.By})
	}
	return err
}

// load counts what was raised per day and by whom.
func (p *Pages) load(ctx context.Context) (*alertLoad, error) {
	now := p.Plant.Now()
	open, err := p.Alerts.Open(ctx)
	if err != nil {
		return nil, err
	}
	l := &alertLoad{OpenNow: len(open)}
	for _, a := range open {
		if now.Sub(a.Raised) > 24*time.Hour {
			l.LongOpen++
		}
	}
	episodes, err := p.findings.since(ctx, now.Add(-loadSpan*24*time.Hour))
	if err != nil {
		return nil, err
	}
	perDay, perGauge, total := map[string]int{}, map[string]int{}, 0
	for _, e := range episodes {
		if e.Tier != cause.Alert || now.Sub(e.Raised) > loadSpan*24*time.Hour {
			continue
		}
		perDay[e.Raised.In(p.Zone.Location).Format(time.DateOnly)]++
		perGauge[e.Gauge]++
		total++
	}
	l.PerDay = units.Fixed(float64(total)/loadSpan, 1)
	l.fillDays(perDay, now.In(p.Zone.Location))
	for tag, n := range perGauge {
		l.Worst = append(l.Worst, worstGauge{tag, p.link(tag), n})
	}
	slices.SortFunc(l.Worst, func(a, b worstGauge) int {
		if a.Raised != b.Raised {
			return b.Raised - a.Raised
		}
		return map[bool]int{true: -1, false: 1}[a.Tag < b.Tag]
	})
	l.Worst = l.Worst[:min(len(l.Worst), 10)]
	return l, nil
}

func (l *alertLoad) fillDays(perDay map[string]int, now time.Time) {
	for _, n := range perDay {
		l.MostPerDay = max(l.MostPerDay, n)
	}
	for i := range loadSpan {
		day := now.AddDate(0, 0, -i).Format(time.DateOnly)
		d := dayLoad{Day: day, Raised: perDay[day]}
		if l.MostPerDay > 0 {
			d.Width = 100 * d.Raised / l.MostPerDay
		}
		l.Days = append(l.Days, d)
	}
}
