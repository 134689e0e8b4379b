package api

import (
	"context"

	"bridlewatch/dashboards/drawing"
	"bridlewatch/dashboards/units"
)

// Drawing is the chamber drawn with characters.
type Drawing struct {
	Text string `json:"text" doc:"lines of a terminal of 80 columns"`
}

// DrawingOf is the input of the call for a drawing.
type DrawingOf struct {
	ByTag
	ASCII bool `query:"ascii" doc:"plain characters only"`
}

func (s *service) drawing(_ context.Context, in *DrawingOf) (*body[Drawing], error) {
	g, err := s.find(in.Tag)
	if err != nil {
		return nil, err
	}
	t := drawing.Text{ASCII: in.ASCII}
	drawing.Draw(&t, drawing.Of(g, s.Plant.Now(), units.Metric), drawing.Terminal)
	return &body[Drawing]{Drawing{t.String()}}, nil
}
