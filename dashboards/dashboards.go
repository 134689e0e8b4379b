// Package dashboards serves the pages, the live events and the programming
// interface of the service. New assembles them from a Plant, which answers
// for the present, and a Store, which answers for the past.
package dashboards

import (
	"errors"
	"net/http"
	"time"

	"bridlewatch/collector/store"
)

// Options are what a Server is made of. Store and Plant must be given.
type Options struct {
	Store         store.Store
	Plant         Plant
	Location      *time.Location // of the plant, nil: UTC
	BasePath      string         // where a proxy mounts the pages, e.g. "/level"; "" or "/": the root
	Rehearsal     bool           // every page says that this is not the plant
	RehearsalText string         // what is being rehearsed; "" for the usual sentence
	Version       string         // of the program
}

// Server serves the pages. It holds no connection to any plant device.
type Server struct {
	options Options
}

// New checks the options and assembles a server.
func New(o Options) (*Server, error) {
	if o.Store == nil || o.Plant == nil {
		return nil, errors.New("dashboards need a store and a plant")
	}
	if o.Location == nil {
		o.Location = time.UTC
	}
	return &Server{options: o}, nil
}

// Handler returns the handler of every page, event stream and call.
func (s *Server) Handler() http.Handler { return http.NotFoundHandler() }

// Publish says that the gauge was compared again. It never blocks and costs
// next to nothing while nobody looks.
func (s *Server) Publish(tag string) {}

// Close ends the event streams.
func (s *Server) Close() error { return nil }
