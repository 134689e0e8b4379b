package api

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"bridlewatch/collector/store"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/trend"
)

func (s *service) evidence(_ context.Context, in *ByTag) (*body[[]cause.Evidence], error) {
	_, err := s.find(in.Tag)
	return &body[[]cause.Evidence]{append([]cause.Evidence{}, s.Plant.Explain(in.Tag)...)}, err
}

func (s *service) tests(_ context.Context, in *ByTag) (*body[[]cause.Test], error) {
	_, err := s.find(in.Tag)
	return &body[[]cause.Test]{append([]cause.Test{}, s.Plant.Settle(in.Tag)...)}, err
}

func (s *service) proven(_ context.Context, in *ByTag) (*body[[]coverage.Proof], error) {
	_, err := s.find(in.Tag)
	return &body[[]coverage.Proof]{append([]coverage.Proof{}, s.Plant.Proven(in.Tag)...)}, err
}

func (s *service) blind(_ context.Context, in *ByTag) (*body[[]coverage.BlindSpot], error) {
	_, err := s.find(in.Tag)
	return &body[[]coverage.BlindSpot]{append([]coverage.BlindSpot{}, s.Plant.Blind(in.Tag)...)}, err
}

// trendInput asks for a period of one gauge.
type trendInput struct {
	ByTag
	Period
	Width int `query:"width" minimum:"2" maximum:"4000" default:"600" doc:"the greatest number of buckets"`
}

// Trend is a decimated period.
type Trend struct {
	From   time.Time   `json:"from"`
	To     time.Time   `json:"to"`
	Step   float64     `json:"step_s" doc:"width of a bucket"`
	Time   []time.Time `json:"time" doc:"middle of each bucket"`
	Series []Series    `json:"series"`
}

// Series is one stored signal in the buckets of the trend.
type Series struct {
	Name string     `json:"name" example:"level.float"`
	Kind string     `json:"kind" enum:"level,gap,point,density"`
	Min  []*float64 `json:"min" doc:"null where nothing usable was recorded"`
	Max  []*float64 `json:"max"`
	Mean []*float64 `json:"mean"`
}

func (s *service) trend(ctx context.Context, in *trendInput) (*body[Trend], error) {
	g, err := s.find(in.Tag)
	if err != nil {
		return nil, err
	}
	from, to, err := in.within(s.Plant.Now())
	if err != nil {
		return nil, err
	}
	chart, err := s.trends.Chart(ctx, in.Tag, trend.Lines(g.Sheet), from, to, in.Width)
	if err != nil {
		return nil, huma.Error500InternalServerError("history could not be read", err)
	}
	out := Trend{From: chart.From, To: chart.To, Step: chart.Step.Seconds(), Time: append([]time.Time{}, chart.Time...), Series: []Series{}}
	for _, c := range chart.Columns {
		out.Series = append(out.Series, Series{c.Name, string(c.Kind), c.Min, c.Max, c.Mean})
	}
	return &body[Trend]{out}, nil
}

// findingsInput asks for the findings of a period.
type findingsInput struct {
	Period
	Gauge string `query:"gauge" doc:"of this gauge only"`
	Limit int    `query:"limit" minimum:"1" maximum:"10000" default:"1000"`
}

func (s *service) findings(ctx context.Context, in *findingsInput) (*body[[]cause.Finding], error) {
	from, to, err := in.within(s.Plant.Now())
	if err != nil {
		return nil, err
	}
	docs, err := s.Store.Documents(ctx, store.Query{Kind: plant.FindingKind, Gauge: in.Gauge, From: from, Latest: true, Newest: true})
	if err != nil {
		return nil, huma.Error500InternalServerError("history could not be read", err)
	}
	out := &body[[]cause.Finding]{Body: []cause.Finding{}}
	for _, d := range docs {
		if len(out.Body) == in.Limit {
			break
		}
		if changed, err := s.changed(ctx, &d, from, to); err != nil {
			return nil, huma.Error500InternalServerError("history could not be read", err)
		} else if !changed {
			continue
		}
		var f cause.Finding
		if err := json.Unmarshal(d.Body, &f); err != nil {
			return nil, huma.Error500InternalServerError(fmt.Sprintf("finding %s is damaged", d.ID), err)
		}
		out.Body = append(out.Body, f)
	}
	return out, nil
}

// changed reports whether a finding changed within a period, given its newest
// version, which may be of a later time.
func (s *service) changed(ctx context.Context, newest *store.Document, from, to time.Time) (bool, error) {
	if newest.Time.Before(to) {
		return true, nil
	}
	if newest.Replaces == 0 {
		return false, nil // began after the period
	}
	versions, err := s.Store.Documents(ctx, store.Query{Kind: plant.FindingKind, ID: newest.ID, From: from, To: to, Limit: 1})
	return len(versions) > 0, err
}

func (s *service) openAlerts(ctx context.Context, _ *struct{}) (*body[[]plant.Alert], error) {
	open, err := s.Alerts.Open(ctx)
	if err != nil {
		return nil, huma.Error500InternalServerError("alerts could not be read", err)
	}
	return &body[[]plant.Alert]{append([]plant.Alert{}, open...)}, nil
}

// events streams one gauge: its full view as JSON at once and after every
// comparison, at most one a second.
func (s *service) events(w http.ResponseWriter, r *http.Request) {
	tag := r.PathValue("tag")
	if _, ok := s.Plant.Gauge(tag); !ok {
		http.Error(w, "there is no gauge "+tag, http.StatusNotFound)
		return
	}
	s.Hub.Stream(w, r, tag, "api", func() []byte {
		g, ok := s.Plant.Gauge(tag)
		if !ok {
			return []byte(": gone\n\n")
		}
		text, err := json.Marshal(gaugeOf(g, s.Plant.Now()))
		if err != nil {
			return []byte(": " + err.Error() + "\n\n")
		}
		return append(append([]byte("event: gauge\ndata: "), text...), "\n\n"...)
	})
}
