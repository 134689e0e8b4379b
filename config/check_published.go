package config

import (
	"net/url"
	"path/filepath"
)

func (d *decoder) checkBroker(s *Source, n *node) {
	u, err := url.Parse(s.Broker)
	switch {
	case s.Broker == "":
	case err != nil || u.Hostname() == "" || u.Scheme != "mqtt" && u.Scheme != "mqtts":
		d.report(n.find("broker"), "%q is not an address such as mqtts://192.0.2.30:8883", shownURL(s.Broker))
	case u.User != nil:
		d.report(n.find("broker"), "must not hold a user or password; write user and password")
	case s.User != "" && u.Scheme != "mqtts":
		d.report(n.find("user"), "a password is never sent without encryption: the broker must be mqtts://")
	}
	d.together(n, "user_certificate", s.CertFile, "user_key", s.KeyFile)
	if s.CertFile != "" && err == nil && u.Scheme == "mqtt" {
		d.report(n.find("user_certificate"), "is shown on an encrypted connection only: the broker must be mqtts://")
	}
	switch {
	case s.User != "" && s.Password.IsZero() && n.field("password") == nil:
		d.report(n.find("user"), "needs password as well")
	case s.User == "" && n.field("password") != nil:
		d.report(n.find("password"), "needs user as well")
	}
	if s.Protocol == MQTT {
		d.needsAge(n, "how long a value holds that is not published again")
	}
	if s.QualityPath == "" && n.field("good") != nil {
		d.report(n.find("good"), "is used with quality_path only")
	}
}

func (d *decoder) checkFolder(s *Source, n *node) {
	if _, err := filepath.Match(s.Files, ""); err != nil {
		d.report(n.find("files"), "%q is no pattern such as *.csv", s.Files)
	}
	d.commaTwice(n, s.DecimalComma, s.Separator)
	if !s.Header && s.TimeColumn != "" && s.TimeColumn[0] != '#' {
		d.report(n.find("time_column"), `%q: without a header a column is given by its number, "#1" for the first`, s.TimeColumn)
	}
	d.needsAge(n, "how old a row may be, by its own time, for its values to count")
}

// needsAge asks for max_age where the poll interval says nothing about how
// often values come.
func (d *decoder) needsAge(n *node, what string) {
	if n.field("max_age") == nil {
		d.report(n.place.below("max_age"), "is missing: %s", what)
	}
}
