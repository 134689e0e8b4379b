package api

import (
	"context"
	"errors"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"bridlewatch/compare/alert"
	"bridlewatch/dashboards/plant"
)

// asker is the key under which the request stands in the context, for finding
// out who asks.
type asker struct{}

// withRequest hands the request on to the handlers of what people do.
func withRequest(ctx huma.Context, next func(huma.Context)) {
	r, _ := humago.Unwrap(ctx)
	next(huma.WithValue(ctx, asker{}, r))
}

// desk adds the calls people handle alerts with.
func (s *service) desk(a huma.API) {
	get := func(id, path, summary string) huma.Operation {
		return huma.Operation{OperationID: id, Method: http.MethodGet, Path: Prefix + path, Summary: summary}
	}
	post := func(id, path, summary string) huma.Operation {
		return huma.Operation{OperationID: id, Method: http.MethodPost, Path: Prefix + path, Summary: summary, Middlewares: huma.Middlewares{withRequest}, DefaultStatus: http.StatusOK}
	}
	huma.Register(a, get("list-quiet-alerts", "/alerts/quiet", "Alerts that are kept quiet"), s.quietAlerts)
	huma.Register(a, get("get-alert-journal", "/alerts/journal", "What happened to alerts, newest first"), s.journal)
	if _, ok := s.Alerts.(plant.Desk); !ok {
		return
	}
	huma.Register(a, get("get-alert-load", "/alerts/load", "How much the alerts ask of people"), s.load)
	huma.Register(a, get("list-quiet-windows", "/quiet", "Quiet windows with what each keeps quiet"), s.windows)
	huma.Register(a, get("list-routes", "/routes", "How the ways out are"), s.routes)
	huma.Register(a, get("get-alert", "/alert", "One alert with its comments"), s.oneAlert)
	huma.Register(a, post("act-on-alert", "/alert/act", "Acknowledge, assign, comment on, shelve, unshelve, visit, take out of service or put back an alert"), s.act)
	huma.Register(a, post("add-quiet-window", "/quiet/add", "Add a quiet window"), s.addWindow)
	huma.Register(a, post("end-quiet-window", "/quiet/end", "End a quiet window before its time"), s.endWindow)
	huma.Register(a, post("try-route", "/routes/trial", "Send a trial message over a route"), s.trial)
}

// who finds out who asks for something that needs a role.
func (s *service) who(ctx context.Context, given, need string) (string, error) {
	r, ok := ctx.Value(asker{}).(*http.Request)
	if !ok {
		return "", huma.Error500InternalServerError("the request was lost on its way")
	}
	if s.ReadOnly {
		return "", huma.Error403Forbidden("this service is read only: nothing is handled here")
	}
	name, err := plant.Who(s.Actor, r, given, need)
	var role *plant.RoleError
	switch {
	case errors.As(err, &role):
		return "", huma.Error403Forbidden(err.Error())
	case err != nil:
		return "", huma.Error401Unauthorized(err.Error())
	}
	return name, nil
}

// refused answers with what the book said.
func refused(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, alert.ErrUnknown):
		return huma.Error404NotFound(err.Error())
	}
	var state *alert.StateError
	if errors.As(err, &state) {
		return huma.Error409Conflict(err.Error())
	}
	return huma.Error422UnprocessableEntity(err.Error())
}

func (s *service) people() plant.Desk { return s.Alerts.(plant.Desk) } // the calls exist only where it is one

func (s *service) quietAlerts(ctx context.Context, _ *struct{}) (*body[[]plant.Alert], error) {
	list, err := s.Alerts.Quiet(ctx)
	if err != nil {
		return nil, huma.Error500InternalServerError("alerts could not be read", err)
	}
	return &body[[]plant.Alert]{append([]plant.Alert{}, list...)}, nil
}

// journalInput asks for a part of the journal.
type journalInput struct {
	Period
	Limit int `query:"limit" minimum:"1" maximum:"10000" default:"300"`
}

// JournalLine is one line of the journal of alerts.
type JournalLine struct {
	Time     time.Time `json:"time"`
	Gauge    string    `json:"gauge,omitempty"`
	Alert    string    `json:"alert,omitempty"`
	What     string    `json:"what"`
	State    string    `json:"state,omitempty" doc:"of the alert afterwards"`
	Sentence string    `json:"sentence,omitempty"`
	By       string    `json:"by,omitempty" doc:"empty: the service"`
}

func (s *service) journal(ctx context.Context, in *journalInput) (*body[[]JournalLine], error) {
	from, to, err := in.within(s.Plant.Now().Add(time.Second))
	if err != nil {
		return nil, err
	}
	lines, err := s.Alerts.Journal(ctx, from, to, in.Limit)
	if err != nil {
		return nil, huma.Error500InternalServerError("journal could not be read", err)
	}
	out := &body[[]JournalLine]{Body: []JournalLine{}}
	for _, l := range lines {
		out.Body = append(out.Body, JournalLine{l.Time, l.Gauge, l.Alert, l.What, l.State, l.Sentence, l.By})
	}
	return out, nil
}

// loadInput asks for the load of some days.
type loadInput struct {
	Days int `query:"days" minimum:"1" maximum:"366" default:"14"`
}

func (s *service) load(ctx context.Context, in *loadInput) (*body[alert.Load], error) {
	l, err := s.people().Load(ctx, in.Days)
	if err != nil {
		return nil, huma.Error500InternalServerError("journal could not be read", err)
	}
	return &body[alert.Load]{l}, nil
}

func (s *service) windows(ctx context.Context, _ *struct{}) (*body[[]plant.Window], error) {
	list, err := s.people().Windows(ctx)
	return &body[[]plant.Window]{list}, err
}

func (s *service) routes(ctx context.Context, _ *struct{}) (*body[[]plant.RouteHealth], error) {
	list, err := s.people().Routes(ctx)
	return &body[[]plant.RouteHealth]{list}, err
}

// alertInput names an alert. It is in the query, since names have slashes.
type alertInput struct {
	ID string `query:"id" required:"true" doc:"of the alert"`
}

// AlertInFull is one alert with what people wrote about it.
type AlertInFull struct {
	plant.Alert
	Comments []alert.Comment `json:"comments"`
}

func (s *service) oneAlert(ctx context.Context, in *alertInput) (*body[AlertInFull], error) {
	a, comments, err := s.people().Alert(ctx, in.ID)
	if err != nil {
		return nil, refused(err)
	}
	return &body[AlertInFull]{AlertInFull{a, append([]alert.Comment{}, comments...)}}, nil
}

// ActInput is what a person does with an alert.
type ActInput struct {
	Body struct {
		Alert      string    `json:"alert" doc:"ID of the alert"`
		Do         string    `json:"do" enum:"acknowledge,visit,assign,comment,shelve,unshelve,take out of service,put back in service"`
		By         string    `json:"by,omitempty" doc:"who does it; only where nobody logs in, on the machine of the service"`
		Why        string    `json:"why,omitempty" maxLength:"2000" doc:"comment or reason"`
		To         string    `json:"to,omitempty" maxLength:"200" doc:"assign: to whom, empty: to nobody"`
		Until      time.Time `json:"until,omitzero" doc:"shelve: end, at most 30 days ahead"`
		UntilClear bool      `json:"until_clear,omitempty" doc:"shelve: ends when what raised the alert is over"`
	}
}

func (s *service) act(ctx context.Context, in *ActInput) (*body[plant.Alert], error) {
	do := alert.Action{Verb: alert.Verb(in.Body.Do), Alert: in.Body.Alert, Why: in.Body.Why, To: in.Body.To, Until: in.Body.Until, UntilClear: in.Body.UntilClear}
	by, err := s.who(ctx, in.Body.By, plant.NeedFor(do.Verb))
	if err != nil {
		return nil, err
	}
	do.By = by
	a, err := s.people().Act(ctx, do)
	if err != nil {
		return nil, refused(err)
	}
	return &body[plant.Alert]{a}, nil
}

// WindowInput is a quiet window to be added.
type WindowInput struct {
	Body struct {
		Name       string    `json:"name,omitempty" maxLength:"100" doc:"numbered when empty"`
		Gauges     []string  `json:"gauges,omitempty"`
		Areas      []string  `json:"areas,omitempty"`
		Causes     []string  `json:"causes,omitempty"`
		From       time.Time `json:"from,omitzero" doc:"begin; now when left out"`
		Until      time.Time `json:"until" doc:"end, at most 180 days later"`
		UntilClear bool      `json:"until_clear,omitempty" doc:"ends early once everything it kept quiet is over"`
		Reason     string    `json:"reason" maxLength:"2000"`
		By         string    `json:"by,omitempty" doc:"who asks; only where nobody logs in, on the machine of the service"`
	}
}

func (s *service) addWindow(ctx context.Context, in *WindowInput) (*body[plant.Window], error) {
	by, err := s.who(ctx, in.Body.By, plant.Engineer)
	if err != nil {
		return nil, err
	}
	w, err := s.people().AddWindow(ctx, alert.Window{
		ID: in.Body.Name, Gauges: in.Body.Gauges, Areas: in.Body.Areas, Causes: in.Body.Causes, From: in.Body.From, Until: in.Body.Until,
		UntilClear: in.Body.UntilClear, Reason: in.Body.Reason, By: by,
	})
	if err != nil {
		return nil, refused(err)
	}
	return &body[plant.Window]{w}, nil
}

// EndInput names a quiet window to be ended.
type EndInput struct {
	Body struct {
		Name string `json:"name"`
		By   string `json:"by,omitempty"`
	}
}

func (s *service) endWindow(ctx context.Context, in *EndInput) (*body[[]plant.Window], error) {
	by, err := s.who(ctx, in.Body.By, plant.Engineer)
	if err != nil {
		return nil, err
	}
	if err := s.people().EndWindow(ctx, in.Body.Name, by); err != nil {
		return nil, refused(err)
	}
	return s.windows(ctx, nil)
}

// TrialInput names a route to be tried.
type TrialInput struct {
	Body struct {
		Route string `json:"route"`
		By    string `json:"by,omitempty"`
	}
}

func (s *service) trial(ctx context.Context, in *TrialInput) (*body[[]plant.RouteHealth], error) {
	by, err := s.who(ctx, in.Body.By, plant.Engineer)
	if err != nil {
		return nil, err
	}
	if err := s.people().Trial(ctx, in.Body.Route, by); err != nil {
		return nil, huma.Error502BadGateway(err.Error())
	}
	return s.routes(ctx, nil)
}
