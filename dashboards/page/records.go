package page

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/times"
)

// recordsPage lists what people did, or when each gauge was last verified.
type recordsPage struct {
	Shell
	View    string
	Tabs    []tab
	Gauge   string
	Kind    record.Kind
	By      string
	From    string
	To      string
	Kinds   []record.Kind
	Gauges  []string
	Rows    []recordRow
	Due     []dueRow
	Chain   string
	Broken  bool
	Trouble string
	Done    string
	More    bool // there are older ones
}

type recordRow struct {
	Number                        int
	Link, At, Gauge, GaugeLink    string
	Kind, Instrument, By, Summary string
	Outside                       bool
}

type dueRow struct {
	Gauge, Link, Service, Area, Last, Age, LastLink, ProveLink string
	Every, Next                                                string // as the configuration says
	Overdue                                                    bool
}

// listed at most.
const mostRecords = 200

func (p *Pages) records(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	page := recordsPage{Shell: p.shell(r, navRecords, "Records"), View: q.Get("view"), Gauge: q.Get("gauge"), Kind: record.Kind(q.Get("kind")), By: q.Get("by"),
		From: q.Get("from"), To: q.Get("to"), Kinds: record.Kinds()}
	for _, t := range []struct{ name, view string }{{"Records", ""}, {"Due and last verified", "due"}, {"Chain", "chain"}} {
		link := p.Base + "/records"
		if t.view != "" {
			link += "?view=" + t.view
		}
		page.Tabs = append(page.Tabs, tab{Name: t.name, Link: link, Here: t.view == page.View})
	}
	for _, g := range p.Plant.Gauges() {
		page.Gauges = append(page.Gauges, g.Sheet.Tag)
	}
	var err error
	switch page.View {
	case "due":
		err = p.fillDue(r, &page)
	case "chain":
		p.fillChain(r, &page)
	default:
		err = p.fillRecords(r, &page)
	}
	if err != nil {
		page.Trouble = upperFirst(err.Error()) + "."
	}
	p.write(w, http.StatusOK, "records", "layout", page)
}

func (p *Pages) fillRecords(r *http.Request, page *recordsPage) error {
	f := records.Filter{Gauge: page.Gauge, Kind: page.Kind, By: strings.TrimSpace(page.By), Limit: mostRecords + 1}
	var err error
	if f.From, err = p.day(page.From, 0); err != nil {
		return err
	}
	if f.To, err = p.day(page.To, 1); err != nil {
		return err
	}
	list, err := p.Records.List(r.Context(), f)
	if err != nil {
		return err
	}
	if page.More = len(list) > mostRecords; page.More {
		list = list[:mostRecords]
	}
	for _, e := range list {
		page.Rows = append(page.Rows, p.recordRow(e))
	}
	return nil
}

// fillChain verifies all records.
func (p *Pages) fillChain(r *http.Request, page *recordsPage) {
	n, hash, err := p.Records.Verify(r.Context())
	switch {
	case err != nil:
		page.Broken, page.Chain = true, upperFirst(err.Error())+"."
	case n == 0:
		page.Chain = "There is no record yet."
	default:
		page.Chain = fmt.Sprintf("The chain holds from record 1 to record %d. SHA-256 of the newest: %s.", n, hash)
	}
}

func (p *Pages) recordRow(e records.Entry) recordRow {
	return recordRow{
		Number: e.Number, Link: p.recordLink(e.Number), At: times.Zone{Location: e.At.Location()}.Full(e.At), Gauge: e.Gauge, GaugeLink: p.link(e.Gauge),
		Kind: string(e.Kind), Instrument: e.Instrument, By: e.By, Summary: upperFirst(e.Summary()),
		Outside: e.Tally(record.AsFound).Outside+e.Tally(record.AsLeft).Outside > 0,
	}
}

// fillLastRecord shows what was done last. A book that cannot be read is
// reported by the page of records; the gauge is shown all the same.
func (p *Pages) fillLastRecord(ctx context.Context, page *gaugePage) {
	page.Records = p.Base + "/records?gauge=" + url.QueryEscape(page.Tag)
	if list, err := p.Records.List(ctx, records.Filter{Gauge: page.Tag, Limit: 1}); err == nil && len(list) > 0 {
		row := p.recordRow(list[0])
		page.Record = &row
	}
	_, err := p.Records.Draft(ctx, page.Tag)
	page.UnderWay = err == nil
}

func (p *Pages) recordLink(n int) string { return p.Base + "/records/" + strconv.Itoa(n) }

// day reads a date of the plant and moves it by whole days.
func (p *Pages) day(text string, more int) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.ParseInLocation(time.DateOnly, text, p.Zone.Location)
	if err != nil {
		return t, fmt.Errorf("%q is no date; write it like 2026-11-25", text)
	}
	return t.AddDate(0, 0, more), nil
}

func (p *Pages) fillDue(r *http.Request, page *recordsPage) error {
	due, err := p.Records.Due(r.Context())
	now := p.Plant.Now()
	for _, d := range due {
		row := dueRow{Gauge: d.Gauge, Link: p.link(d.Gauge), Service: d.Service, Area: d.Area, Last: "never, as far as these records go back", ProveLink: p.link(d.Gauge, "prove")}
		if d.Last != nil {
			row.Last, row.LastLink = p.Zone.Short(d.Last.At, now)+", "+string(d.Last.Kind), p.recordLink(d.Last.Number)
			row.Age = fmt.Sprintf("%d d", int(now.Sub(d.Last.At).Hours()/24))
		}
		row.Every, row.Next, row.Overdue = "not stated", "–", d.Overdue(now)
		if d.Every > 0 {
			row.Every, row.Next = fmt.Sprintf("%d d", d.Every), "never verified"
		}
		if !d.Next.IsZero() {
			row.Next = d.Next.In(p.Zone.Location).Format(time.DateOnly)
		}
		page.Due = append(page.Due, row)
	}
	return err
}
