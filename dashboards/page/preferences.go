package page

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"bridlewatch/dashboards/units"
)

// preferences are what a reader chose. The address wins over the cookie, so a
// link shows the same to everybody.
type preferences struct {
	units units.Set
	theme string
	keys  bool
}

const preferencesCookie = "bridlewatch-view"

func preferencesOf(r *http.Request) preferences {
	chosen := url.Values{}
	if c, err := r.Cookie(preferencesCookie); err == nil {
		if v, err := url.ParseQuery(c.Value); err == nil {
			chosen = v
		}
	}
	if u := r.URL.Query().Get("units"); u != "" {
		chosen.Set("units", u)
	}
	return readPreferences(chosen)
}

// readPreferences takes what is known and leaves the rest at its default.
func readPreferences(v url.Values) preferences {
	p := preferences{theme: "auto", keys: v.Get("keys") != "off"}
	p.units, _ = units.Named(v.Get("units"))
	if t := v.Get("theme"); t == "light" || t == "dark" {
		p.theme = t
	}
	return p
}

func (p preferences) encode() string {
	v := url.Values{"units": {p.units.Name}, "theme": {p.theme}, "keys": {"on"}}
	if !p.keys {
		v.Set("keys", "off")
	}
	return v.Encode()
}

// setPreferences keeps the choice in the browser and goes back to the page it
// was made on.
func (p *Pages) setPreferences(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		p.say(w, r, http.StatusBadRequest, "The choice was not understood", err.Error())
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: preferencesCookie, Value: readPreferences(r.PostForm).encode(), Path: p.Base + "/",
		MaxAge: int((365 * 24 * time.Hour).Seconds()), HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil,
	})
	http.Redirect(w, r, p.back(r.PostForm.Get("here")), http.StatusSeeOther)
}

// back returns an address of ours to go back to: never one of another host.
func (p *Pages) back(here string) string {
	u, err := url.Parse(here)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(here, p.Base+"/") || strings.HasPrefix(here, "//") || strings.Contains(here, `\`) {
		return p.Base + "/"
	}
	q := u.Query()
	q.Del("units")
	u.RawQuery = q.Encode()
	return u.String()
}
