package page

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// alertLoad is how much the alerts ask of people.
type alertLoad struct {
	Figures []figure
	Days    []dayLoad
	Worst   []worstGauge
}

type figure struct{ Name, Value, Note string }

type dayLoad struct {
	Day    string
	Raised int
	Width  int // of 100
}

type worstGauge struct {
	Tag, Link, Cause string
	Raised           int
}

// loadDays is the period the load is counted over.
const loadDays = 14

func (p *Pages) load(ctx context.Context) (*alertLoad, error) {
	if desk, ok := p.desk(); ok {
		return p.deskLoad(ctx, desk.Load)
	}
	return p.findingLoad(ctx)
}

// findingLoad counts the findings of the alert tier.
func (p *Pages) findingLoad(ctx context.Context) (*alertLoad, error) {
	now := p.Plant.Now()
	open, err := p.Alerts.Open(ctx)
	if err != nil {
		return nil, err
	}
	long := 0
	for _, a := range open {
		if now.Sub(a.Raised) > 24*time.Hour {
			long++
		}
	}
	episodes, err := p.findings.since(ctx, now.Add(-loadDays*24*time.Hour))
	if err != nil {
		return nil, err
	}
	perDay, perGauge, total := map[string]int{}, map[string]int{}, 0
	for _, e := range episodes {
		if e.Tier == cause.Alert && now.Sub(e.Raised) <= loadDays*24*time.Hour {
			perDay[e.Raised.In(p.Zone.Location).Format(time.DateOnly)]++
			perGauge[e.Gauge]++
			total++
		}
	}
	l := &alertLoad{Figures: []figure{
		{"Raised per day, last 14 days", units.Fixed(float64(total)/loadDays, 1), ""},
		{"Open now", units.Fixed(float64(len(open)), 0), ""},
		{"Open for longer than a day", units.Fixed(float64(long), 0), ""},
	}}
	l.fillDays(perDay, now.In(p.Zone.Location))
	for tag, n := range perGauge {
		l.Worst = append(l.Worst, worstGauge{Tag: tag, Link: p.link(tag), Raised: n})
	}
	slices.SortFunc(l.Worst, func(a, b worstGauge) int {
		return cmp.Or(b.Raised-a.Raised, strings.Compare(a.Tag, b.Tag))
	})
	l.Worst = l.Worst[:min(len(l.Worst), 10)]
	return l, nil
}

func (l *alertLoad) fillDays(perDay map[string]int, now time.Time) {
	most := 0
	for _, n := range perDay {
		most = max(most, n)
	}
	for i := range loadDays {
		day := now.AddDate(0, 0, -i).Format(time.DateOnly)
		d := dayLoad{Day: day, Raised: perDay[day]}
		if most > 0 {
			d.Width = 100 * d.Raised / most
		}
		l.Days = append(l.Days, d)
	}
}

// seconds writes a duration given in seconds, or that there is none.
func seconds(s float64) string {
	if s <= 0 {
		return "–"
	}
	return times.Span(time.Duration(s * float64(time.Second)))
}
