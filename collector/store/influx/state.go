package influx

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"
	"github.com/influxdata/influxdb-client-go/v2/api/write"
)

// State is what a box says of its gauges once a minute. Categories are the
// numbers of the contract; which of them is worse is for the caller to say.
type State struct {
	Worst          int // category of the worst gauge
	Alerts         int // open and not kept quiet
	Unacknowledged int // of them
	Version        string
	URL            string // of the pages of the box
	Gauges         []GaugeState
}

// GaugeState is what a box says of one gauge.
type GaugeState struct {
	Gauge    string
	Time     time.Time // set when it is read: when the box said so
	Category int
	Alerts   int
	Headline string
}

// lines encodes a report: one line for the box, one for each gauge. A box that
// knows nothing of its gauges says only that it is alive.
func (o Origin) lines(at time.Time, s Status, state *State) []string {
	box := write.NewPointWithMeasurement(MeasurementBox).SetTime(at).
		AddTag("box", o.Box).AddTag("site", o.Site).
		AddField("contract", int64(Contract)).AddField("lag_seconds", s.Lag.Seconds()).
		AddField("rejected", int64(s.Rejected)).AddField("sent", int64(s.Sent))
	if state == nil {
		return []string{encode(box)}
	}
	box.AddField("alerts", int64(state.Alerts)).AddField("gauges", int64(len(state.Gauges))).
		AddField("unacknowledged", int64(state.Unacknowledged)).AddField("worst", int64(state.Worst))
	addText(box, "url", state.URL)
	addText(box, "version", state.Version)
	lines := []string{encode(box)}
	for _, g := range state.Gauges {
		p := write.NewPointWithMeasurement(MeasurementGauge).SetTime(at).
			AddTag("box", o.Box).AddTag("gauge", g.Gauge).AddTag("site", o.Site).
			AddField("alerts", int64(g.Alerts)).AddField("category", int64(g.Category))
		addText(p, "headline", g.Headline)
		lines = append(lines, encode(p))
	}
	return lines
}

func addText(p *write.Point, field, text string) {
	if text != "" {
		p.AddField(field, text)
	}
}

// Box is a box that has sent something.
type Box struct {
	Origin
	Alive    time.Time // when it last said so
	Lag      time.Duration
	Rejected int64
	Gauges   int    // how many it watches
	State    *State // nil: it says nothing of its gauges. The gauges are not in it
}

// Boxes lists the boxes that were alive within the last age, by site and box.
func (c *Central) Boxes(ctx context.Context, age time.Duration) ([]Box, error) {
	flux := fmt.Sprintf(`from(bucket: %s) |> range(start: -%ds) |> filter(fn: (r) => r._measurement == %s) |> last()`,
		quote(c.server.Bucket), int64(age.Seconds()), quote(MeasurementBox))
	reports := map[Origin]*report{}
	err := c.query(ctx, flux, func(r *query.FluxRecord) {
		o := Origin{text(r, "site"), text(r, "box")}
		if reports[o] == nil {
			reports[o] = &report{}
		}
		reports[o].add(r)
	})
	out := make([]Box, 0, len(reports))
	for o, r := range reports {
		out = append(out, r.box(o))
	}
	slices.SortFunc(out, func(a, b Box) int { return cmp.Or(cmp.Compare(a.Site, b.Site), cmp.Compare(a.Box, b.Box)) })
	return out, err
}

// Gauges returns what a box last said of each gauge within age, by tag. Gauges
// it no longer names are left out.
func (c *Central) Gauges(ctx context.Context, o Origin, age time.Duration) ([]GaugeState, error) {
	flux := fmt.Sprintf(`from(bucket: %s) |> range(start: -%ds) |> filter(fn: (r) => r._measurement == %s and r.site == %s and r.box == %s) |> last()`,
		quote(c.server.Bucket), int64(age.Seconds()), quote(MeasurementGauge), quote(o.Site), quote(o.Box))
	reports := map[string]*report{}
	var newest time.Time
	err := c.query(ctx, flux, func(r *query.FluxRecord) {
		tag := text(r, "gauge")
		if reports[tag] == nil {
			reports[tag] = &report{}
		}
		reports[tag].add(r)
		if r.Time().After(newest) {
			newest = r.Time()
		}
	})
	out := make([]GaugeState, 0, len(reports))
	for tag, r := range reports {
		if r.at.Equal(newest) {
			out = append(out, GaugeState{Gauge: tag, Time: r.at.UTC(), Category: int(r.number("category")), Alerts: int(r.number("alerts")), Headline: r.text("headline")})
		}
	}
	slices.SortFunc(out, func(a, b GaugeState) int { return cmp.Compare(a.Gauge, b.Gauge) })
	return out, err
}

// report gathers the fields of the newest instant: what was said earlier must
// not stand beside what was said last.
type report struct {
	at     time.Time
	fields map[string]*query.FluxRecord
}

func (r *report) add(f *query.FluxRecord) {
	if f.Time().After(r.at) {
		r.at, r.fields = f.Time(), map[string]*query.FluxRecord{}
	}
	if f.Time().Equal(r.at) {
		r.fields[f.Field()] = f
	}
}

// number is 0 for a field that was not said.
func (r *report) number(field string) float64 {
	if f := r.fields[field]; f != nil {
		return number(f)
	}
	return 0
}

func (r *report) text(field string) string {
	if f := r.fields[field]; f != nil {
		return text(f, "_value")
	}
	return ""
}

func (r *report) box(o Origin) Box {
	b := Box{Origin: o, Alive: r.at, Lag: time.Duration(r.number("lag_seconds") * float64(time.Second)), Rejected: int64(r.number("rejected"))}
	if r.fields["worst"] != nil {
		b.Gauges = int(r.number("gauges"))
		b.State = &State{
			Worst: int(r.number("worst")), Alerts: int(r.number("alerts")), Unacknowledged: int(r.number("unacknowledged")),
			Version: r.text("version"), URL: r.text("url"),
		}
	}
	return b
}
