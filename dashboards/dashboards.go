// Package dashboards serves the pages, the live events and the programming
// interface of the service. New assembles them from a Plant, which answers
// for the present, and a Store, which answers for the past.
package dashboards

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/intake"
	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/metrics"
	"bridlewatch/dashboards/page"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/trials"
	"bridlewatch/dashboards/ui"
)

// Options are what a Server is made of. Store and Plant must be given.
type Options struct {
	Store         store.Store
	Plant         Plant
	Location      *time.Location         // of the plant, nil: UTC
	BasePath      string                 // where a proxy mounts the pages, e.g. "/level"; "" or "/": the root
	Rehearsal     bool                   // every page says that this is not the plant
	RehearsalText string                 // what is being rehearsed; "" for the usual sentence
	Version       string                 // of the program
	Alerts        Alerts                 // states of alerts; a Desk also lets people handle them; nil: every finding of the alert tier is unacknowledged
	Actor         Actor                  // who asks; nil: nobody logs in, and a name given by hand is taken on this machine only
	ReadOnly      bool                   // nothing may be handled here
	Records       *records.Book          // what people did; nil: a book in Store that tells nobody
	Trust         Trust                  // certificates of servers; nil: no source has any
	Metrics       []prometheus.Collector // beside those of gauges and alerts
	Imports       intake.Door            // the door for files of historians; nil: it is shut
	Trials        trials.Runner          // faults put into kept history; nil: there are none
	Fleet         plant.Fleet            // the boxes of the central store; nil: there is none
	Access        *access.Access         // who may come in; nil: everybody, and Actor says who it is
}

// Server serves the pages. It holds no connection to any plant device.
type Server struct {
	handler  http.Handler
	patterns []string // of every address
	hub      *live.Hub
}

// Live pages renew themselves at most once per livePause, and at least once
// per liveSettle so that they also show silence.
const (
	livePause  = time.Second
	liveSettle = 5 * time.Second
)

// New checks the options and assembles a server.
func New(o Options) (*Server, error) {
	if o.Store == nil || o.Plant == nil {
		return nil, errors.New("dashboards need a store and a plant")
	}
	base, err := basePath(o.BasePath)
	if err != nil {
		return nil, err
	}
	if o.Location == nil {
		o.Location = time.UTC
	}
	hash, err := ui.Hash()
	if err != nil {
		return nil, fmt.Errorf("static files: %w", err)
	}
	s := &Server{hub: live.New(livePause, liveSettle)}
	static := "/s/" + hash
	pages, err := page.New(page.Options{
		Plant: o.Plant, Store: o.Store, Alerts: o.Alerts, Actor: o.Actor, Access: o.Access, ReadOnly: o.ReadOnly, Records: o.Records, Trust: o.Trust, Imports: o.Imports, Trials: o.Trials, Fleet: o.Fleet, Hub: s.hub, Templates: ui.Templates(),
		Base: base, Static: base + static, Zone: times.Zone{Location: o.Location},
		Rehearsal: o.Rehearsal, RehearsalText: o.RehearsalText, Version: o.Version,
	})
	if err != nil {
		return nil, err
	}
	mux := &access.Mux{}
	mux.Handle("GET "+static+"/", ui.Handler(static+"/"))
	mux.HandleFunc("GET /healthz", alive)
	mux.HandleFunc("GET /readyz", ready(o.Plant))
	mux.Handle("GET /metrics", metrics.Handler(o.Plant, append(slices.Clone(o.Metrics), metrics.OfAlerts(o.Alerts))...))
	document := api.Routes(mux, api.Options{Plant: o.Plant, Store: o.Store, Alerts: pages.Alerts, Actor: o.Actor, Access: o.Access, ReadOnly: o.ReadOnly, Records: pages.Records, Imports: o.Imports, Hub: s.hub, Base: base, Version: o.Version})
	mux.HandleFunc("GET /interface", pages.Interface(api.Describe(document)))
	pages.Routes(mux)
	s.patterns = mux.Patterns()
	upload := int64(0)
	if o.Imports != nil {
		upload = o.Imports.Most()
	}
	s.handler = guarded(base, upload, asked(o.Access, mux, pages.Refused), pages.Failed)
	return s, nil
}

// Handler returns the handler of every page, event stream and call.
func (s *Server) Handler() http.Handler { return s.handler }

// Publish says that the gauge was compared again. It never blocks and is one
// look into a map while nobody looks at the gauge.
func (s *Server) Publish(tag string) { s.hub.Publish(tag) }

// Close ends the event streams. The server then refuses new ones.
func (s *Server) Close() error {
	s.hub.Close()
	return nil
}

// basePath makes "" of "" and "/", and "/level" of "/level/".
func basePath(path string) (string, error) {
	path = strings.TrimRight(path, "/")
	if path == "" {
		return "", nil
	}
	if !strings.HasPrefix(path, "/") || strings.ContainsAny(path, "?#\"'<> \\") || strings.Contains(path, "//") {
		return "", fmt.Errorf("base path %q must begin with / and be the path of an address, like /level", path)
	}
	return path, nil
}
