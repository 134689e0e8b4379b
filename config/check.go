package config

import (
	"net"
	"net/netip"
	"net/url"
	"strings"
	"time"
)

// check looks at the configuration as a whole: names used twice, references,
// security that must be said in words, and gauges that cannot be.
func (d *decoder) check(c *Config, root *node) {
	d.checkNames(c)
	if n := root.field("service"); readable(n) {
		d.checkService(c, n)
	}
	if n := root.field("history"); readable(n) {
		d.checkHistory(c, n)
	}
	d.checkInflux(c, root)
	d.checkPair(c, root)
	for _, n := range []*node{root.field("store").field("directory"), root.field("site").field("box"), root.field("site").field("name")} {
		if n != nil && n.kind == scalar && n.text == "" {
			d.report(n.place, "must not be empty")
		}
	}
	for i := range c.Sources {
		d.checkSource(&c.Sources[i], root.item("sources", i))
	}
	d.checkFramings(c.Sources, root)
	for i := range c.Gauges {
		d.checkGauge(&c.Gauges[i], root.item("gauges", i))
	}
	d.checkUnused(c)
	d.checkAddresses(c)
	d.checkOverlaps(c)
	for i := range c.Notify {
		d.checkRoute(c, &c.Notify[i], root.item("notify", i))
	}
	d.checkAccess(c, root)
	for i := range c.Quiet {
		d.checkQuiet(c, &c.Quiet[i], root.item("quiet", i))
	}
}

// readable is false for what was written and is no group of keys; that has
// been reported, and its defaults were not filled in.
func readable(n *node) bool { return n == nil || n.kind == mapping || n.kind == null }

// item is one entry of a top-level list.
func (n *node) item(list string, i int) *node {
	if l := n.field(list); l != nil && i < len(l.items) {
		return l.items[i]
	}
	return &node{place: n.place}
}

// checkNames refuses a name that is used twice: tags are unique over all
// gauges and over all signals, names within their list.
func (d *decoder) checkNames(c *Config) {
	gauges, signals, sources := unique{d: d, what: "gauge"}, unique{d: d, what: "signal tag"}, unique{d: d, what: "source"}
	for i := range c.Gauges {
		g := &c.Gauges[i]
		gauges.add(g.Sheet.Tag, g.Place)
		for _, s := range g.Signals {
			if !s.Shared {
				signals.add(s.Tag, s.Place)
			}
		}
	}
	for i := range c.Sources {
		sources.add(c.Sources[i].Name, c.Sources[i].Place)
	}
	routes, users, tokens, quiet := unique{d: d, what: "route"}, unique{d: d, what: "user"}, unique{d: d, what: "token"}, unique{d: d, what: "quiet window"}
	for _, r := range c.Notify {
		routes.add(r.Name, r.Place)
	}
	for _, u := range c.Users {
		users.add(u.Name, u.Place)
	}
	for _, t := range c.Tokens {
		tokens.add(t.Name, t.Place)
	}
	for _, q := range c.Quiet {
		quiet.add(q.Name, q.Place)
	}
}

// unique remembers where each name was used first.
type unique struct {
	d    *decoder
	what string
	seen map[string]Place
}

func (u *unique) add(name string, at Place) {
	if name == "" {
		return // reported as missing
	}
	if first, found := u.seen[name]; found {
		u.d.report(at, "%s %q is used twice; first at %s", u.what, name, first.position())
		return
	}
	if u.seen == nil {
		u.seen = map[string]Place{}
	}
	u.seen[name] = at
}

func (d *decoder) checkService(c *Config, n *node) {
	s := &c.Service
	loopback := d.checkListen(s.Listen, n.find("listen"))
	if s.MetricsListen != "" {
		d.checkListen(s.MetricsListen, n.find("metrics_listen"))
	}
	if s.VerdictListen != "" {
		d.checkListen(s.VerdictListen, n.find("verdict_listen"))
	}
	if s.MetricsListen != "" {
		if s.MetricsListen == s.Listen {
			d.report(n.find("metrics_listen"), "is the same address as listen; leave it out to have both on one")
		}
	}
	if s.ExternalURL != "" && webURL(s.ExternalURL) == nil {
		d.report(n.find("external_url"), "%q is not a web address such as https://levels.example", shownURL(s.ExternalURL))
	}
	if p := s.BasePath; p != "" && (!strings.HasPrefix(p, "/") || strings.HasSuffix(p, "/") || strings.ContainsAny(p, "?# ")) {
		d.report(n.find("base_path"), "%q must begin with / and not end with it, for example /levels", p)
	}
	d.together(n, "tls_certificate", s.TLSCert, "tls_key", s.TLSKey)
	if s.TLSSelfMade && s.TLSCert != "" {
		d.report(n.find("tls_self_made"), "and tls_certificate exclude each other: leave one out")
	}
	switch {
	case s.OpenAccess && !loopback:
		d.report(n.find("open_access"), "is allowed on a loopback address only; listen is %s", s.Listen)
	case !loopback && !s.Encrypted():
		d.advise(n.find("listen"), "%s can be reached from other machines and is not encrypted: give it a certificate, let it make one (tls_self_made: true), or listen on 127.0.0.1 behind a proxy that encrypts", s.Listen)
	}
	if len(c.Notify) > 0 && s.ExternalURL == "" {
		d.advise(n.find("external_url"), "is not given, so messages carry no link to the gauge")
	}
}

// checkListen reports whether the address is one that only this box reaches.
func (d *decoder) checkListen(address string, at Place) (loopback bool) {
	host, port, err := net.SplitHostPort(address)
	if err != nil || !validPort(port) {
		d.report(at, `%q is not an address to listen on such as 127.0.0.1:8080 or :8080`, address)
		return true
	}
	return isLoopback(host)
}

func validPort(port string) bool {
	n, err := readInteger(port)
	return err == nil && n >= 0 && n <= 65535
}

func isLoopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip, err := netip.ParseAddr(host)
	return err == nil && ip.IsLoopback()
}

// webURL parses an http or https address with a host; nil when it is none.
func webURL(s string) *url.URL {
	u, err := url.Parse(s)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil
	}
	return u
}

// shownURL is an address as far as it may be shown: what stands before an @
// may be a password.
func shownURL(s string) string {
	if i := strings.LastIndex(s, "@"); i >= 0 {
		return "..." + s[i:]
	}
	return s
}

// together reports when only one of two values that need each other is given.
func (d *decoder) together(n *node, nameA, a, nameB, b string) {
	if a != "" && b == "" {
		d.report(n.find(nameA), "needs %s as well", nameB)
	}
	if b != "" && a == "" {
		d.report(n.find(nameB), "needs %s as well", nameA)
	}
}

// commaTwice reports a comma that would stand in numbers and between columns.
func (d *decoder) commaTwice(n *node, decimalComma bool, separator string) {
	if decimalComma && separator == "," {
		d.report(n.find("decimal_comma"), "a comma cannot stand in numbers and between columns: write the separator")
	}
}

// checkHistory refuses a comma that would mean two things, and tries the time pattern on a known instant.
func (d *decoder) checkHistory(c *Config, n *node) {
	d.commaTwice(n, c.History.DecimalComma, c.History.Separator)
	f := c.History.TimeFormat
	if f == "rfc3339" || f == "epoch" {
		return
	}
	known := time.Date(2019, time.November, 27, 14, 38, 0, 0, time.UTC)
	back, err := time.Parse(f, known.Format(f))
	if err != nil || !back.Equal(known) {
		d.report(n.find("time_format"), `%q is neither rfc3339 nor epoch, nor a pattern with date, hour and minute of the reference time "2006-01-02 15:04:05"`, f)
	}
}

func (d *decoder) checkInflux(c *Config, root *node) {
	i, n := c.Influx, root.field("influx")
	if i != nil && root.field("site").field("name") == nil {
		d.advise(n.place, "sends every point as of the site %q: give the site a name of its own", c.Site.Name)
	}
	if i == nil || i.URL == "" {
		return
	}
	u := webURL(i.URL)
	switch {
	case u == nil:
		d.report(n.find("url"), "%q is not an address such as https://influx.example:8086", shownURL(i.URL))
	case u.User != nil:
		d.report(n.find("url"), "must not hold a user or password; give the token as a reference")
	case u.Scheme == "http" && !isLoopback(u.Hostname()) && !i.AcceptNoEncryption:
		d.report(n.find("url"), "is not encrypted and not on this box; use https, or say accept_no_encryption: true")
	}
}

// checkAccess looks at the people and programs that may come in.
func (d *decoder) checkAccess(c *Config, root *node) {
	for i, u := range c.Users {
		if hash := u.PasswordHash.Reveal(); hash != "" && !strings.HasPrefix(hash, "$argon2id$") {
			d.report(root.item("users", i).find("password_hash"), "does not refer to an argon2id hash in PHC form; a password itself is never kept")
		}
	}
	for i, t := range c.Tokens {
		if v := t.Value.Reveal(); v != "" && len(v) < 32 {
			d.report(root.item("tokens", i).find("value"), "refers to a token of %d characters; it must have at least 32", len(v))
		}
	}
}

func (d *decoder) checkQuiet(c *Config, q *QuietWindow, n *node) {
	if !q.From.IsZero() && !q.Until.IsZero() && !q.Until.After(q.From) {
		d.report(n.find("until"), "is not after from")
	}
	if n.field("reason") != nil && strings.TrimSpace(q.Reason) == "" {
		d.report(n.find("reason"), "must say why")
	}
	d.checkTargets(c, n, q.Gauges, q.Areas)
}

// checkTargets reports gauges and areas that do not exist.
func (d *decoder) checkTargets(c *Config, n *node, gauges, areas []string) {
	var tags, places []string
	for i := range c.Gauges {
		tags, places = append(tags, c.Gauges[i].Sheet.Tag), append(places, c.Gauges[i].Sheet.Area)
	}
	d.checkKnown(n.find("gauges"), "gauge", gauges, tags)
	d.checkKnown(n.find("areas"), "area", areas, places)
}

func (d *decoder) checkKnown(at Place, what string, names, known []string) {
	for _, name := range names {
		found := false
		for _, k := range known {
			found = found || k == name
		}
		if !found {
			d.report(at, "there is no %s %q%s", what, name, didYouMean(name, known))
		}
	}
}
