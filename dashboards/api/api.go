// Package api is the programming interface: everything the pages show, as
// JSON under /api/v1, in SI units and RFC 3339 times, described by an OpenAPI
// document that is made of this code. It only reads.
//
// What is published here is a promise: names and meanings of fields change
// only with the version in the path; fields may be added.
package api

import (
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/intake"
	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/trend"
)

// Options are what the interface is made of.
type Options struct {
	Plant   plant.Plant
	Store   store.Store
	Alerts  plant.Alerts // a plant.Desk lets people handle them
	Hub     *live.Hub
	Base    string // prefix of every address, "" or "/level"
	Version string // of the program

	Actor    plant.Actor    // who asks; nil: a name given by hand, on this machine only
	Access   *access.Access // who may come in; nil: nobody logs in
	ReadOnly bool           // nothing may be handled
	Imports  intake.Door    // nil: no file is taken
	Records  *records.Book  // what people did; nil: no calls about it
}

// Prefix of every address of this version.
const Prefix = "/api/v1"

// description stands at the head of the OpenAPI document.
const description = `Reads what bridlewatch sees: gauges, comparisons, findings, evidence and history.

Lengths are metres above the lower tap, pressures absolute pascals, temperatures kelvins, densities kilograms per cubic metre.
Uncertainties named u are standard uncertainties (k = 1); budgets are what a gap may be (k = 2 unless configured).
Nothing here can write to a plant device. The assessments are not a safety function and not alarms.`

// service answers the calls.
type service struct {
	Options
	trends *trend.Reader
}

// Routes adds every call to the mux and returns the OpenAPI document.
func Routes(mux humago.Mux, o Options) *huma.OpenAPI {
	s := &service{Options: o, trends: trend.NewReader(o.Store)}
	config := huma.DefaultConfig("bridlewatch", o.Version)
	config.Info.Description = description
	config.OpenAPIPath = Prefix + "/openapi"
	config.DocsPath, config.SchemasPath, config.CreateHooks = "", "", nil // pages and schemas of the library load from elsewhere
	if o.Base != "" {
		config.Servers = []*huma.Server{{URL: o.Base}}
	}
	if o.Access != nil {
		secure(&config)
	}
	a := humago.New(mux, config)
	register(a, "list-gauges", "/gauges", "Gauges, worst first as configured", s.gauges)
	register(a, "get-gauge", "/gauges/{tag}", "One gauge as it was compared last", s.gauge)
	register(a, "get-evidence", "/gauges/{tag}/evidence", "The ledger of evidence of a gauge, oldest first", s.evidence)
	register(a, "get-tests", "/gauges/{tag}/tests", "Tests that would split the causes that remain, best first", s.tests)
	register(a, "get-proven", "/gauges/{tag}/proven", "When each instrument was last proven at each elevation", s.proven)
	register(a, "get-blind-spots", "/gauges/{tag}/blind", "What the instruments of a gauge cannot see", s.blind)
	register(a, "get-drawing", "/gauges/{tag}/drawing", "The chamber to scale, drawn with characters", s.drawing)
	register(a, "get-trend", "/gauges/{tag}/trend", "History of a gauge in shared buckets with least, greatest and mean value", s.trend)
	register(a, "list-findings", "/findings", "Findings that changed in a period, each as it is told now", s.findings)
	register(a, "list-alerts", "/alerts", "Alerts that are open", s.openAlerts)
	register(a, "get-health", "/health", "How the service itself is", s.health)
	s.desk(a)
	webhooks(a.OpenAPI())
	s.book(a)
	s.imports(a)
	s.access(a)
	mux.HandleFunc("GET "+Prefix+"/gauges/{tag}/events", s.events)
	if s.Records != nil {
		mux.HandleFunc("GET "+Prefix+"/records/{number}/pdf", s.pdf)
	}
	return a.OpenAPI()
}

func register[I, O any](a huma.API, id, path, summary string, handler func(context.Context, *I) (*O, error)) {
	huma.Register(a, huma.Operation{OperationID: id, Method: http.MethodGet, Path: Prefix + path, Summary: summary}, handler)
}

// ByTag is the input of the calls about one gauge.
type ByTag struct {
	Tag string `path:"tag" doc:"tag of the gauge" example:"LG-101"`
}

// body wraps what is answered.
type body[T any] struct{ Body T }

func (s *service) find(tag string) (plant.GaugeView, error) {
	g, ok := s.Plant.Gauge(tag)
	if !ok {
		return g, huma.Error404NotFound("there is no gauge " + tag + "; tags are compared letter by letter")
	}
	return g, nil
}

func (s *service) gauges(context.Context, *struct{}) (*body[[]Summary], error) {
	now := s.Plant.Now()
	out := &body[[]Summary]{Body: []Summary{}}
	for _, g := range s.Plant.Gauges() {
		out.Body = append(out.Body, summaryOf(g, now))
	}
	return out, nil
}

func (s *service) gauge(_ context.Context, in *ByTag) (*body[Gauge], error) {
	g, err := s.find(in.Tag)
	if err != nil {
		return nil, err
	}
	return &body[Gauge]{gaugeOf(g, s.Plant.Now())}, nil
}

func (s *service) health(context.Context, *struct{}) (*body[Health], error) {
	return &body[Health]{healthOf(s.Plant.Health(), s.Plant.Now())}, nil
}

// Period is the input of the calls about a period.
type Period struct {
	From time.Time `query:"from" doc:"begin, RFC 3339; a day before the end when left out"`
	To   time.Time `query:"to" doc:"end, exclusive; now when left out"`
}

func (p Period) within(now time.Time) (from, to time.Time, err error) {
	from, to = p.From, p.To
	if to.IsZero() {
		to = now
	}
	if from.IsZero() {
		from = to.Add(-24 * time.Hour)
	}
	if !to.After(from) {
		return from, to, huma.Error422UnprocessableEntity((&trend.PeriodError{From: from, To: to}).Error())
	}
	return from, to, nil
}
