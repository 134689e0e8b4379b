package page

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"bridlewatch/compare"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
)

// fleetPage lists the boxes that feed the central store, worst first.
type fleetPage struct {
	Shell
	Counts  []count // boxes by their worst gauge; the silent are not seen
	Boxes   []boxRow
	Gauges  int
	Trouble string
	Days    int
}

// boxRow is one box as it last reported.
type boxRow struct {
	Badge
	Site, Box, Link, URL string
	Silent               bool
	Said                 string // what a silent box said last
	Heard, Behind        string
	Late                 bool
	Gauges, Alerts       string
	Rejected, Version    string

	view plant.BoxView
}

// fleetDays is how long a box that has fallen silent stays on the list.
const fleetDays = 30

// fleetPatience is how long the central store may take; this box does not
// depend on it.
const fleetPatience = 5 * time.Second

// lateAfter is a lag worth saying: a few reports are missing.
const lateAfter = 10 * time.Minute

func (p *Pages) fleet(w http.ResponseWriter, r *http.Request) {
	if p.Fleet == nil {
		p.say(w, r, http.StatusNotFound, "There is no central store", "Name one in the section influx of the configuration, and every box that feeds it is listed here.")
		return
	}
	page := fleetPage{Shell: p.shell(r, navFleet, "Fleet"), Days: fleetDays}
	boxes, err := p.boxes(r.Context())
	if err != nil {
		page.Trouble = centralTrouble(err)
	}
	page.fill(p, boxes, p.boxNow())
	p.write(w, http.StatusOK, "fleet", "layout", page)
}

func (p *Pages) boxes(ctx context.Context) ([]plant.BoxView, error) {
	ctx, cancel := context.WithTimeout(ctx, fleetPatience)
	defer cancel()
	return p.Fleet.Boxes(ctx, fleetDays*24*time.Hour)
}

// centralTrouble says that the central store was not read and what that does
// not mean.
func centralTrouble(err error) string {
	return "The central store could not be read: " + strings.TrimSuffix(err.Error(), ".") + ". What other boxes say is not known here. This box and every other goes on by itself."
}

// boxNow is the time by the clock of this box, which boxes report by.
func (p *Pages) boxNow() time.Time {
	if now := p.Plant.Health().Now; !now.IsZero() {
		return now
	}
	return p.Plant.Now()
}

func (page *fleetPage) fill(p *Pages, boxes []plant.BoxView, now time.Time) {
	counts := map[compare.Category]int{}
	for _, b := range boxes {
		page.Boxes = append(page.Boxes, p.boxRow(b, now))
		page.Gauges += b.Gauges
		counts[boxCategory(b, now)]++
	}
	slices.SortStableFunc(page.Boxes, func(a, b boxRow) int { return worseBox(a.view, b.view, now) })
	page.Counts = countsOf(counts)
}

// boxCategory is the assessment to show: a silent box is not seen, whatever it
// said before, and so is one that says nothing of its gauges.
func boxCategory(b plant.BoxView, now time.Time) compare.Category {
	if b.Silent(now) || !b.Detailed {
		return compare.NotSeenCategory
	}
	return b.Worst
}

// worseBox puts the silent first, for nothing of their gauges is known; then
// by the worst gauge, by what nobody has acknowledged, and by the lag.
func worseBox(a, b plant.BoxView, now time.Time) int {
	return cmp.Or(
		yesFirst(a.Silent(now), b.Silent(now)),
		plant.Worse(boxCategory(a, now), boxCategory(b, now)), cmp.Compare(b.Unacknowledged, a.Unacknowledged), cmp.Compare(b.Alerts, a.Alerts),
		cmp.Compare(b.Behind, a.Behind), cmp.Compare(a.Site, b.Site), cmp.Compare(a.Box, b.Box),
	)
}

func (p *Pages) boxRow(b plant.BoxView, now time.Time) boxRow {
	row := boxRow{
		Badge: badge(boxCategory(b, now)), Site: b.Site, Box: b.Box, Link: p.Base + "/fleet/box?" + url.Values{"site": {b.Site}, "box": {b.Box}}.Encode(), URL: webAddress(b.URL),
		Heard: p.ago(b.Reported, now), Behind: "up to date", Silent: b.Silent(now), Gauges: "–", Alerts: "–", Version: b.Version, view: b,
	}
	if b.Behind >= time.Minute {
		row.Behind, row.Late = times.Span(b.Behind)+" behind", b.Behind >= lateAfter
	}
	if b.Rejected > 0 {
		row.Rejected = fmt.Sprintf("%d values refused by the central store", b.Rejected)
	}
	if b.Detailed {
		row.Gauges = fmt.Sprint(b.Gauges)
		row.Alerts = "none"
		if b.Alerts > 0 {
			row.Alerts = fmt.Sprintf("%d, %d of them not acknowledged", b.Alerts, b.Unacknowledged)
		}
	}
	if b.Silent(now) {
		row.Behind, row.Alerts = "not known", "not known"
		if b.Detailed {
			row.Said = fmt.Sprintf("%s, %d alerts", badge(b.Worst).Word, b.Alerts)
		}
	}
	return row
}

// webAddress is the address of other pages, "" unless it is one.
func webAddress(text string) string {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return ""
	}
	return strings.TrimSuffix(text, "/")
}

// boxPage is one box of the fleet with what it says of its gauges.
type boxPage struct {
	Shell
	Row     boxRow
	Gauges  []boxGaugeRow
	Trouble string
	Fleet   string
}

type boxGaugeRow struct {
	Badge
	Tag, Link, Headline, Said string
	Alerts                    int
}

func (p *Pages) box(w http.ResponseWriter, r *http.Request) {
	site, name := r.URL.Query().Get("site"), r.URL.Query().Get("box")
	if p.Fleet == nil {
		p.fleet(w, r)
		return
	}
	page := boxPage{Shell: p.shell(r, navFleet, name+", "+site), Fleet: p.Base + "/fleet"}
	now := p.boxNow()
	boxes, err := p.boxes(r.Context())
	at := slices.IndexFunc(boxes, func(b plant.BoxView) bool { return b.Site == site && b.Box == name })
	switch {
	case err != nil:
		page.Trouble = centralTrouble(err)
	case at < 0:
		p.say(w, r, http.StatusNotFound, "No such box was heard", fmt.Sprintf("No box %q of %q has reported in %d days.", name, site, fleetDays))
		return
	default:
		page.Row = p.boxRow(boxes[at], now)
		if err := page.fill(r.Context(), p, boxes[at], now); err != nil {
			page.Trouble = centralTrouble(err)
		}
	}
	p.write(w, http.StatusOK, "box", "layout", page)
}

// fill lists the gauges. What a silent box said of them is said, not shown as
// if it were so.
func (page *boxPage) fill(ctx context.Context, p *Pages, b plant.BoxView, now time.Time) error {
	ctx, cancel := context.WithTimeout(ctx, fleetPatience)
	defer cancel()
	gauges, err := p.Fleet.BoxGauges(ctx, b.Site, b.Box, fleetDays*24*time.Hour)
	if err != nil {
		return err
	}
	for _, g := range gauges {
		row := boxGaugeRow{Badge: badge(g.Category), Tag: g.Gauge, Headline: g.Headline, Alerts: g.Alerts}
		if page.Row.URL != "" {
			row.Link = page.Row.URL + "/gauge/" + url.PathEscape(g.Gauge)
		}
		if b.Silent(now) {
			row.Badge, row.Said = badge(compare.NotSeenCategory), row.Badge.Word
		}
		page.Gauges = append(page.Gauges, row)
	}
	return nil
}
