package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"bridlewatch/compare/alert"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/plant"
)

// actForm is what was filled in to handle alerts; it comes back with the
// reason when it cannot be done.
type actForm struct {
	Base             string
	AskName          bool
	Alert            string // the one alert it is about, "" for several
	Why, To, By, For string
	Gauges, Areas    string // of a quiet window
	Cause            string // of a quiet window, "" for any
}

// lengths are the times alerts can be kept quiet for, as they are offered.
var lengths = []struct{ Value, Name string }{{"2h", "2 h"}, {"8h", "8 h, a shift"}, {"24h", "24 h"}, {"72h", "3 d"}, {"168h", "7 d"}, {"clear", "until it clears"}}

// Causes returns the causes a quiet window can be about, as people call them.
func (actForm) Causes() []struct{ Value, Name string } {
	list := []struct{ Value, Name string }{{"", "any cause"}}
	for _, c := range cause.All {
		list = append(list, struct{ Value, Name string }{string(c), cause.Phrase(c)})
	}
	return list
}

// Lengths returns the times offered.
func (actForm) Lengths() []struct{ Value, Name string } { return lengths }

// done are the words that confirm an action.
var done = map[string]string{
	"acknowledge": "Acknowledged.", "visit": "The visit is noted.", "assign": "Assigned.", "comment": "The comment is noted.", "shelve": "Shelved.", "unshelve": "No longer shelved.",
	"take out of service": "Taken out of service.", "put back in service": "Put back in service.",
	"window": "The quiet window is set.", "ended": "The quiet window has ended.", "trial": "The trial message was delivered.",
}

const nameCookie = "bridlewatch-name"

// nameOf is the name somebody gave before, so that it is not asked twice.
func (p *Pages) nameOf(r *http.Request) string {
	if c, err := r.Cookie(nameCookie); err == nil {
		if name, err := url.QueryUnescape(c.Value); err == nil {
			return name
		}
	}
	return ""
}

// acting reads a form and finds out who sent it. It answers itself when that
// fails.
func (p *Pages) acting(w http.ResponseWriter, r *http.Request, view, need string) (desk plant.Desk, form actForm, ok bool) {
	desk, ok = p.desk()
	if !ok || p.ReadOnly {
		p.say(w, r, http.StatusNotFound, "Nothing is handled here", "This service takes no acknowledgements and keeps nothing quiet.")
		return nil, form, false
	}
	if err := r.ParseForm(); err != nil {
		p.writeAlerts(w, r, http.StatusBadRequest, view, form, "The form was not understood: "+err.Error())
		return nil, form, false
	}
	get := r.PostForm.Get
	form = actForm{Alert: get("alert"), Why: get("why"), To: get("to"), By: strings.TrimSpace(get("by")), For: get("for"), Gauges: get("gauges"), Areas: get("areas"), Cause: get("cause")}
	who, err := plant.Who(p.Actor, r, form.By, need)
	if err != nil {
		status := http.StatusUnprocessableEntity
		var role *plant.RoleError
		if errors.As(err, &role) {
			status = http.StatusForbidden
		}
		p.writeAlerts(w, r, status, view, form, upperFirst(err.Error())+".")
		return nil, form, false
	}
	form.By = who
	return desk, form, true
}

// finish goes back to the page the form was on and says what was done.
func (p *Pages) finish(w http.ResponseWriter, r *http.Request, form actForm, what string) {
	if p.Actor == nil {
		http.SetCookie(w, &http.Cookie{Name: nameCookie, Value: url.QueryEscape(form.By), Path: p.Base + "/", MaxAge: int((90 * 24 * time.Hour).Seconds()), HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil})
	}
	u, err := url.Parse(p.back(r.PostForm.Get("here")))
	if err != nil {
		u = &url.URL{Path: p.Base + "/alerts"}
	}
	q := u.Query()
	q.Set("done", what)
	u.RawQuery = q.Encode()
	http.Redirect(w, r, u.String(), http.StatusSeeOther)
}

// act does one thing with one alert or with several.
func (p *Pages) act(w http.ResponseWriter, r *http.Request) {
	verb := alert.Verb(r.PostFormValue("verb"))
	desk, form, ok := p.acting(w, r, "", plant.NeedFor(verb))
	if !ok {
		return
	}
	ids := r.PostForm["alert"]
	if len(ids) == 0 {
		p.writeAlerts(w, r, http.StatusUnprocessableEntity, "", form, "No alert is selected: tick the ones you mean.")
		return
	}
	until, clear, err := p.until(form.For)
	if verb == alert.Shelve && err != nil {
		p.writeAlerts(w, r, http.StatusUnprocessableEntity, "", form, err.Error())
		return
	}
	var refused []string
	for _, id := range ids {
		do := alert.Action{Verb: verb, Alert: id, By: form.By, Why: form.Why, To: form.To}
		if verb == alert.Shelve {
			do.Until, do.UntilClear = until, clear
		}
		if a, err := desk.Act(r.Context(), do); err != nil {
			refused = append(refused, strings.TrimSpace(a.Gauge+" "+err.Error()))
		}
	}
	if len(refused) > 0 {
		p.writeAlerts(w, r, http.StatusUnprocessableEntity, "", form, "Not done. "+upperFirst(strings.Join(refused, "; "))+".")
		return
	}
	p.finish(w, r, form, string(verb))
}

// until turns an offered length into an end by the plant's clock.
func (p *Pages) until(length string) (end time.Time, clear bool, err error) {
	if length == "clear" {
		return time.Time{}, true, nil
	}
	d, err := time.ParseDuration(length)
	if err != nil || d <= 0 {
		return time.Time{}, false, fmt.Errorf("%q is not a length of time: choose for how long it is to be quiet", length)
	}
	return p.Plant.Now().Add(d), false, nil
}

// quietWindow adds a quiet window.
func (p *Pages) quietWindow(w http.ResponseWriter, r *http.Request) {
	desk, form, ok := p.acting(w, r, "quiet", plant.Engineer)
	if !ok {
		return
	}
	until, clear, err := p.until(form.For)
	if clear {
		until = p.Plant.Now().Add(alert.LongestQuiet)
	}
	if err == nil {
		_, err = desk.AddWindow(r.Context(), alert.Window{
			Gauges: listed(form.Gauges, ","), Areas: listed(form.Areas, ";"), Causes: listed(form.Cause, ","), From: p.Plant.Now(), Until: until, UntilClear: clear, Reason: form.Why, By: form.By,
		})
	}
	if err != nil {
		p.writeAlerts(w, r, http.StatusUnprocessableEntity, "quiet", form, upperFirst(err.Error())+".")
		return
	}
	p.finish(w, r, form, "window")
}

// endWindow ends a quiet window before its time.
func (p *Pages) endWindow(w http.ResponseWriter, r *http.Request) {
	p.deskCall(w, r, "quiet", "ended", func(ctx context.Context, desk plant.Desk, form actForm) error {
		return desk.EndWindow(ctx, r.PostForm.Get("window"), form.By)
	})
}

// trial sends a trial message over a route.
func (p *Pages) trial(w http.ResponseWriter, r *http.Request) {
	p.deskCall(w, r, "routes", "trial", func(ctx context.Context, desk plant.Desk, form actForm) error {
		return desk.Trial(ctx, r.PostForm.Get("route"), form.By)
	})
}

func (p *Pages) deskCall(w http.ResponseWriter, r *http.Request, view, what string, call func(context.Context, plant.Desk, actForm) error) {
	desk, form, ok := p.acting(w, r, view, plant.Engineer)
	if !ok {
		return
	}
	if err := call(r.Context(), desk, form); err != nil {
		p.writeAlerts(w, r, http.StatusUnprocessableEntity, view, form, upperFirst(err.Error())+".")
		return
	}
	p.finish(w, r, form, what)
}

// listed splits what was written with separators: commas between tags,
// semicolons between areas, whose names have commas.
func listed(text, separator string) []string {
	var list []string
	for part := range strings.SplitSeq(text, separator) {
		if part = strings.TrimSpace(part); part != "" {
			list = append(list, part)
		}
	}
	return list
}
