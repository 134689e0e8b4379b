package config

import (
	"net/url"
	"slices"
	"strings"
)

// schemes are the addresses a kind of route takes, the encrypted ones first.
var schemes = map[string]struct{ encrypted, plain []string }{
	"webhook":      {[]string{"https"}, []string{"http"}},
	"alertmanager": {[]string{"https"}, []string{"http"}},
	"smtp":         {[]string{"smtps", "smtp"}, []string{"smtp+plain"}}, // smtp insists on STARTTLS
	"mqtt":         {[]string{"mqtts"}, []string{"mqtt"}},
	"syslog":       {[]string{"syslog+tls"}, []string{"syslog+tcp", "syslog+udp"}},
}

func (d *decoder) checkRoute(c *Config, r *Route, n *node) {
	d.checkRouteURL(r, n)
	d.together(n, "certificate", r.CertFile, "key", r.KeyFile)
	switch {
	case r.User != "" && n.field("password") == nil:
		d.report(n.find("user"), "needs password as well")
	case r.User == "" && n.field("password") != nil:
		d.report(n.find("password"), "needs user as well")
	}
	for _, to := range append([]string{r.From}, r.To...) {
		if at := strings.Index(to, "@"); r.Kind == "smtp" && to != "" && (at < 1 || at == len(to)-1) {
			d.report(n.find("to"), "%q is not a mail address", to)
		}
	}
	d.checkTargets(c, n, r.Gauges, r.Areas)
}

// secretWords in the query of an address give away that it is a secret.
var secretWords = []string{"token", "key", "secret", "password", "sig", "auth"}

func (d *decoder) checkRouteURL(r *Route, n *node) {
	allowed, known := schemes[r.Kind]
	at := n.find("url")
	switch {
	case !known:
		return // reported already
	case n.field("url") == nil && n.field("url_from") == nil:
		d.report(n.place.below("url"), "is missing: where to, or url_from when the address is a secret")
		return
	case n.field("url") != nil && n.field("url_from") != nil:
		d.report(n.find("url_from"), "is given beside url; one of them is enough")
		return
	case n.field("url_from") != nil:
		at = n.find("url_from")
	}
	if r.Address() == "" {
		return // not read
	}
	u, err := url.Parse(r.Address())
	all := append(slices.Clone(allowed.encrypted), allowed.plain...)
	if err != nil || u.Host == "" || !slices.Contains(all, u.Scheme) {
		d.report(at, "must begin with %s and name a host", orList(suffixed(all)))
		return
	}
	if u.User != nil {
		d.report(at, "must not hold a user or password; write user and password")
	}
	for name := range u.Query() {
		if r.URLFrom.IsZero() && slices.ContainsFunc(secretWords, func(w string) bool { return strings.Contains(strings.ToLower(name), w) }) {
			d.report(at, "holds a secret (%s): keep the address elsewhere and write url_from", name)
		}
	}
	d.checkEncryption(r, u, at, allowed.encrypted)
}

func (d *decoder) checkEncryption(r *Route, u *url.URL, at Place, encrypted []string) {
	if slices.Contains(encrypted, u.Scheme) || isLoopback(u.Hostname()) {
		return
	}
	switch {
	case r.User != "" || !r.Token.IsZero() || !r.URLFrom.IsZero():
		d.report(at, "a password, token or secret address is never sent without encryption: use %s", orList(suffixed(encrypted)))
	case !r.AcceptNoEncryption:
		d.report(at, "is not encrypted and not on this box: use %s, or say accept_no_encryption: true", orList(suffixed(encrypted)))
	}
}

func suffixed(schemes []string) []string {
	out := make([]string, len(schemes))
	for i, s := range schemes {
		out[i] = s + "://"
	}
	return out
}
