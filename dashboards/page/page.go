// Package page renders the pages people read: which gauge needs a visit and
// why, what one gauge says, what it said before, and what would settle who is
// wrong. Pages are complete without scripts; scripts only keep them fresh.
package page

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/intake"
	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/trend"
	"bridlewatch/dashboards/trials"
)

// Options are what pages are made of.
type Options struct {
	Plant         plant.Plant
	Store         store.Store
	Alerts        plant.Alerts   // nil: every finding of the alert tier is an alert nobody has acknowledged
	Actor         plant.Actor    // who asks; nil: a name given by hand, on this machine only
	Access        *access.Access // who may log in; nil: nobody logs in
	Records       *records.Book  // nil: a book in Store that tells nobody
	Trust         plant.Trust    // certificates of servers; nil: no source has any
	Fleet         plant.Fleet    // boxes of the central store; nil: there is none
	Hub           *live.Hub
	Templates     fs.FS
	Base          string // prefix of every address, "" or "/level"
	Static        string // address of the static files, base included
	Zone          times.Zone
	Rehearsal     bool
	RehearsalText string
	Version       string
	Trials        trials.Runner // nil: none are made here
	Imports       intake.Door   // nil: no file is taken
	ReadOnly      bool          // nothing may be handled here
}

// Pages renders and serves pages. It may be used by several goroutines.
type Pages struct {
	Options
	pages    map[string]*template.Template
	trends   *trend.Reader
	sparks   *sparks
	findings findings
}

// New parses the templates: every page is the layout with the parts and one
// file of its own.
func New(o Options) (*Pages, error) {
	p := &Pages{Options: o, pages: map[string]*template.Template{}, trends: trend.NewReader(o.Store), findings: findings{o.Plant, o.Store}}
	p.sparks = newSparks(p.trends)
	if p.Alerts == nil {
		p.Alerts = p.findings
	}
	if p.Records == nil {
		p.Records = records.NewBook(records.Options{Store: o.Store, Plant: o.Plant, Location: o.Zone.Location, Software: o.Version, ReadOnly: o.ReadOnly, Rehearsal: o.Rehearsal})
	}
	names, err := fs.Glob(o.Templates, "page_*.html")
	if err != nil {
		return nil, err
	}
	for _, file := range names {
		name := strings.TrimSuffix(strings.TrimPrefix(path.Base(file), "page_"), ".html")
		t, err := template.New(name).Option("missingkey=error").ParseFS(o.Templates, "layout.html", "parts_*.html", file)
		if err != nil {
			return nil, fmt.Errorf("template of page %s: %w", name, err)
		}
		p.pages[name] = t
	}
	return p, nil
}

// Routes adds every page to the mux.
func (p *Pages) Routes(mux router) {
	p.accessRoutes(mux)
	mux.HandleFunc("GET /{$}", p.visits)
	mux.HandleFunc("GET /walk", p.walk)
	mux.HandleFunc("GET /find", p.find)
	mux.HandleFunc("GET /gauge/{tag}", p.gauge)
	mux.HandleFunc("GET /gauge/{tag}/events", p.events)
	mux.HandleFunc("GET /gauge/{tag}/trend", p.trend)
	mux.HandleFunc("GET /gauge/{tag}/trend.json", p.trendData)
	mux.HandleFunc("GET /gauge/{tag}/trend.csv", p.trendCSV)
	mux.HandleFunc("GET /gauge/{tag}/compare", p.compare)
	mux.HandleFunc("GET /gauge/{tag}/rewind", p.rewind)
	mux.HandleFunc("GET /gauge/{tag}/settle", p.settle)
	mux.HandleFunc("GET /gauge/{tag}/proven", p.proven)
	mux.HandleFunc("GET /gauge/{tag}/blind", p.blind)
	mux.HandleFunc("GET /gauge/{tag}/trial", p.trialsOf)
	mux.HandleFunc("POST /gauge/{tag}/trial", p.orderTrials)
	mux.HandleFunc("GET /alerts", p.alerts)
	mux.HandleFunc("GET /alerts/one", p.alertOne)
	mux.HandleFunc("POST /alerts/act", p.act)
	mux.HandleFunc("POST /alerts/quiet", p.quietWindow)
	mux.HandleFunc("POST /alerts/quiet/end", p.endWindow)
	mux.HandleFunc("POST /alerts/routes/trial", p.trial)
	mux.HandleFunc("GET /records", p.records)
	mux.HandleFunc("GET /records/{number}", p.showRecord)
	mux.HandleFunc("GET /records/{number}/pdf", p.recordPDF)
	mux.HandleFunc("GET /records/{number}/json", p.recordJSON)
	mux.HandleFunc("GET /gauge/{tag}/record", p.newRecord)
	mux.HandleFunc("POST /gauge/{tag}/record", p.addRecord)
	mux.HandleFunc("GET /gauge/{tag}/prove", p.prove)
	mux.HandleFunc("POST /gauge/{tag}/prove", p.proveStep)
	mux.HandleFunc("GET /plant", p.plantPage)
	mux.HandleFunc("GET /fleet", p.fleet)
	mux.HandleFunc("GET /fleet/box", p.box)
	mux.HandleFunc("GET /service", p.service)
	mux.HandleFunc("POST /service/trust", p.trust)
	mux.HandleFunc("GET /imports", p.imports)
	mux.HandleFunc("POST /imports", p.handIn)
	mux.HandleFunc("POST /imports/act", p.actOnImport)
	mux.HandleFunc("POST /preferences", p.setPreferences)
	mux.HandleFunc("GET /", p.notFound)
}

// write renders a page whole before a byte of it is sent, so that a failing
// template gives an error page and not half a page.
func (p *Pages) write(w http.ResponseWriter, status int, name, block string, data any) {
	var b bytes.Buffer
	if err := p.pages[name].ExecuteTemplate(&b, block, data); err != nil {
		http.Error(w, "This page could not be made: "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // the reader has gone away
}

// message is a page that says one thing.
type message struct {
	Shell
	Heading string
	Text    string
}

func (p *Pages) notFound(w http.ResponseWriter, r *http.Request) {
	p.say(w, r, http.StatusNotFound, "There is no such page", "The address "+r.URL.Path+" leads nowhere. The list of gauges is one step away.")
}

func (p *Pages) say(w http.ResponseWriter, r *http.Request, status int, heading, text string) {
	p.write(w, status, "message", "layout", message{p.shell(r, "", heading), heading, text})
}

// Failed is the page that says that another page could not be made.
func (p *Pages) Failed(w http.ResponseWriter, r *http.Request) {
	p.say(w, r, http.StatusInternalServerError, "This page could not be made",
		"The service goes on polling, comparing and recording. What went wrong is in its log; please report it with the address of this page.")
}

// view finds the gauge of the address or says that there is none.
func (p *Pages) view(w http.ResponseWriter, r *http.Request) (plant.GaugeView, bool) {
	tag := r.PathValue("tag")
	g, ok := p.Plant.Gauge(tag)
	if !ok {
		p.say(w, r, http.StatusNotFound, "There is no gauge "+tag, "Tags are compared letter by letter. Find it by a part of its tag or service in the list of gauges.")
	}
	return g, ok
}

// ago writes when something was, and how long ago.
func (p *Pages) ago(t, now time.Time) string {
	return p.Zone.Short(t, now) + ", " + times.Ago(t, now)
}
