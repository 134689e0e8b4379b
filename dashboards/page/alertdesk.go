package page

import (
	"context"
	"strings"

	"bridlewatch/compare/alert"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// desk returns what handles alerts, where there is something that does.
func (p *Pages) desk() (plant.Desk, bool) {
	d, ok := p.Alerts.(plant.Desk)
	return d, ok
}

// windowRow is one quiet window.
type windowRow struct {
	ID, Scope, Reason, By, From, Until, Hides, State string
	Active, Configured                               bool
}

func (p *Pages) windows(ctx context.Context) ([]windowRow, error) {
	desk, ok := p.desk()
	if !ok {
		return nil, nil
	}
	list, err := desk.Windows(ctx)
	now := p.Plant.Now()
	var rows []windowRow
	for _, w := range list {
		row := windowRow{
			ID: w.ID, Scope: w.Scope, Reason: w.Reason, By: w.By, From: p.Zone.Full(w.From), Until: p.ago(w.Until, now),
			Hides: strings.Join(w.Hides, ", "), Active: w.Active, Configured: w.Configured, State: "over",
		}
		switch {
		case w.Active && !w.Reminded.IsZero():
			row.State = "keeps quiet, ends soon"
		case w.Active:
			row.State = "keeps quiet"
		case w.Ended.IsZero() && now.Before(w.From):
			row.State = "begins later"
		case w.EndedBy != "":
			row.State = "ended by " + w.EndedBy
		}
		rows = append(rows, row)
	}
	return rows, err
}

// endings reminds who looks at a page of what they keep quiet and what ends
// soon.
func (p *Pages) endings(ctx context.Context, who string) []string {
	desk, ok := p.desk()
	if !ok || who == "" {
		return nil
	}
	now := p.Plant.Now()
	var list []string
	if windows, err := desk.Windows(ctx); err == nil {
		for _, w := range windows {
			if w.Active && !w.Reminded.IsZero() && w.By == who {
				list = append(list, "Your quiet window about "+w.Scope+" ends "+times.Ago(w.Until, now)+". Set another under Alerts, Kept quiet, if it is still needed.")
			}
		}
	}
	if quiet, err := desk.Quiet(ctx); err == nil {
		for _, a := range quiet {
			if a.EndsSoon && a.Quiet == "shelved" && a.QuietBy == who {
				list = append(list, "What you shelved of "+a.Gauge+" comes back "+times.Ago(a.Until, now)+". Shelve it again under Alerts, Kept quiet, if that is still right.")
			}
		}
	}
	return list
}

// routeRow is one way alerts leave the box.
type routeRow struct {
	Name, Kind, To, State, Delivered string
	Waiting                          int
	Sent, Failures                   uint64
	Bad                              bool
}

func (p *Pages) routes(ctx context.Context) ([]routeRow, error) {
	desk, ok := p.desk()
	if !ok {
		return nil, nil
	}
	list, err := desk.Routes(ctx)
	now := p.Plant.Now()
	var rows []routeRow
	for _, r := range list {
		row := routeRow{Name: r.Name, Kind: r.Kind, To: r.To, State: "delivers", Delivered: p.ago(r.Delivered, now), Waiting: r.Waiting, Sent: r.Sent, Failures: r.Failures}
		switch {
		case r.Error != "":
			row.State, row.Bad = r.Error, true
		case r.Delivered.IsZero():
			row.State = "nothing was sent yet"
		}
		rows = append(rows, row)
	}
	return rows, err
}

// deskLoad shows the figures the desk counts.
func (p *Pages) deskLoad(ctx context.Context, count func(context.Context, int) (alert.Load, error)) (*alertLoad, error) {
	c, err := count(ctx, loadDays)
	if err != nil {
		return nil, err
	}
	whole := func(n int) string { return units.Fixed(float64(n), 0) }
	l := &alertLoad{Figures: []figure{
		{"Raised per day, last 14 days", units.Fixed(c.PerDay, 1), ""},
		{"Per gauge and year", units.Fixed(c.PerGaugeY, 2), "we ask of ourselves at most " + units.Fixed(c.Goal, 1)},
		{"Open now", whole(c.Open), whole(c.Unseen) + " not acknowledged"},
		{"Open for longer than a day", whole(len(c.Stale)), ""},
		{"Shelved now", whole(len(c.Shelved)), ""},
		{"Raised again and again", whole(len(c.Chattering)), ""},
		{"Acknowledged after, median", seconds(c.AckMedian), ""},
	}}
	most := 0
	for _, d := range c.Days {
		most = max(most, d.Raised)
	}
	for _, d := range c.Days {
		row := dayLoad{Day: d.Day.Format("2006-01-02"), Raised: d.Raised}
		if most > 0 {
			row.Width = 100 * d.Raised / most
		}
		l.Days = append(l.Days, row)
	}
	for _, w := range c.Worst {
		l.Worst = append(l.Worst, worstGauge{Tag: w.Gauge, Link: p.link(w.Gauge), Cause: strings.ReplaceAll(w.Cause, "-", " "), Raised: w.Raised})
	}
	return l, nil
}
