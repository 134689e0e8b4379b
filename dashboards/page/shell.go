package page

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"time"

	"bridlewatch/compare"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/units"
)

// Shell is what every page has around its content.
type Shell struct {
	Title     string
	Active    string // of the navigation
	Base      string
	Static    string
	Site      string
	Rehearsal string
	Notices   []string
	AsOf      string
	Rendered  int64 // server clock, milliseconds since 1970
	Units     units.Set
	UnitsList []units.Set
	Theme     string // "auto", "light", "dark"
	Keys      bool   // single-key shortcuts
	Here      string // address of this page, for forms that come back
	Version   string
	Who       string // is logged in, "" when nobody is
	Role      access.Role
	LogsIn    bool   // people log in here
	Fleet     bool   // there is a central store
	Early     string // address of data the scripts will ask for at once, "" for none
}

// Page names of the navigation.
const (
	navVisits  = "visits"
	navAlerts  = "alerts"
	navRecords = "records"
	navPlant   = "plant"
	navService = "service"
	navFleet   = "fleet"
)

const rehearsalText = "This is a simulated plant, not yours. Nothing here was measured on a real vessel, and no messages are sent."

func (p *Pages) shell(r *http.Request, active, title string) Shell {
	health := p.Plant.Health()
	choice := preferencesOf(r)
	s := Shell{
		Title: title, Active: active, Base: p.Base, Static: p.Static, Site: health.Site,
		Notices: health.Notices, AsOf: p.Zone.Full(p.Plant.Now()), Rendered: time.Now().UnixMilli(),
		Units: choice.units, UnitsList: units.Sets(), Theme: choice.theme, Keys: choice.keys,
		Here: p.Base + r.URL.RequestURI(), Version: p.Version, Fleet: p.Fleet != nil,
	}
	if s.Site == "" {
		s.Site = "bridlewatch"
	}
	p.fillWho(r, &s)
	s.Notices = append(slices.Clone(s.Notices), p.endings(r.Context(), p.whoReads(r))...)
	if p.Rehearsal {
		s.Rehearsal = p.RehearsalText
		if s.Rehearsal == "" {
			s.Rehearsal = rehearsalText
		}
	}
	return s
}

// whoReads is the name the journal knows the reader by, "" when it is not
// known.
func (p *Pages) whoReads(r *http.Request) string {
	if p.Actor == nil {
		return p.nameOf(r)
	}
	name, _, ok := p.Actor(r)
	if !ok {
		return ""
	}
	return name
}

// OfGauge is the address of a gauge, whose tag may hold a slash or a space.
// Attributes that only scripts read are not escaped as addresses.
func (s Shell) OfGauge(tag string) string { return s.Base + "/gauge/" + url.PathEscape(tag) }

// link returns the address of a page of a gauge.
func (p *Pages) link(tag string, more ...string) string {
	address := Shell{Base: p.Base}.OfGauge(tag)
	for _, m := range more {
		address += "/" + m
	}
	return address
}

// Badge shows a category by shape, letter and word; colour only repeats it.
type Badge struct {
	Letter string
	Word   string
	Class  string
	Shape  template.HTML
}

var badges = map[compare.Category]Badge{
	compare.Failure:         {"F", "failure", "failure", `<circle cx="12" cy="12" r="10"/>`},
	compare.FunctionCheck:   {"C", "function check", "check", `<path d="M12 2.5 22 12 12 21.5 2 12z"/>`},
	compare.OutOfSpec:       {"S", "out of specification", "spec", `<path d="M12 1.8 22.6 21H1.4z"/>`},
	compare.MaintenanceDue:  {"M", "maintenance required", "maintenance", `<rect x="3" y="3" width="18" height="18"/>`},
	compare.GoodCategory:    {"", "all right", "good", `<circle cx="12" cy="12" r="6"/>`},
	compare.NotSeenCategory: {"?", "not seen", "unseen", `<circle cx="12" cy="12" r="9.5"/>`},
}

func badge(c compare.Category) Badge {
	if b, ok := badges[c]; ok {
		return b
	}
	return badges[compare.NotSeenCategory]
}

// severity orders categories, worst first.
func severity(c compare.Category) int {
	switch c {
	case compare.Failure:
		return 0
	case compare.FunctionCheck:
		return 1
	case compare.OutOfSpec:
		return 2
	case compare.NotSeenCategory:
		return 3
	case compare.MaintenanceDue:
		return 4
	}
	return 5
}
