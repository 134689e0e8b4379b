package notify

import (
	"crypto/tls"
	"fmt"
	"net"
	"net/url"
	"slices"
	"time"

	"bridlewatch/dashboards/access/certificate"
)

// Setting is a route as it is configured.
type Setting struct {
	Name string
	Kind string // "webhook", "alertmanager", "smtp", "mqtt", "syslog"
	URL  string

	Key      []byte // webhook: of the signature
	User     string
	Password string
	Token    string // bearer

	From  string   // smtp
	To    []string // smtp
	Topic string   // mqtt

	CAFile, CertFile, KeyFile string

	Areas, Gauges []string // empty: all
	Watches       bool
	Ended         bool
	RepeatEvery   time.Duration
	Client        string // name of this box at a receiver that wants one
}

// New makes the route of a setting.
func New(s Setting) (Route, error) {
	u, err := url.Parse(s.URL)
	if err != nil || u.Host == "" {
		return nil, fmt.Errorf("route %s: its address names no host", s.Name) // the address may be a secret
	}
	secure, err := s.tls(u.Hostname())
	if err != nil {
		return nil, fmt.Errorf("route %s: %w", s.Name, err)
	}
	if (s.Password != "" || s.Token != "") && !encrypted(u.Scheme) && !onThisBox(u.Hostname()) {
		return nil, fmt.Errorf("route %s: a password or token is never sent without encryption: use https, smtps, smtp, mqtts or syslog+tls", s.Name)
	}
	switch s.Kind {
	case "webhook":
		return newWebhook(s, secure), nil
	case "alertmanager":
		return newAlertmanager(s, secure), nil
	case "smtp":
		return newMail(s, u, secure)
	case "mqtt":
		return newBus(s, u, secure), nil
	case "syslog":
		return newSyslog(s, u, secure), nil
	}
	return nil, fmt.Errorf("route %s: kind %q is none of webhook, alertmanager, smtp, mqtt, syslog", s.Name, s.Kind)
}

func encrypted(scheme string) bool {
	return slices.Contains([]string{"https", "smtps", "smtp", "mqtts", "syslog+tls"}, scheme)
}

func onThisBox(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (s *Setting) tls(host string) (*tls.Config, error) {
	c := &tls.Config{MinVersion: tls.VersionTLS12, ServerName: host}
	if s.CAFile != "" {
		var err error
		if c.RootCAs, err = certificate.Roots(s.CAFile); err != nil {
			return nil, err
		}
	}
	if s.CertFile != "" {
		pair, err := tls.LoadX509KeyPair(s.CertFile, s.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("read client certificate: %w", err)
		}
		c.Certificates = []tls.Certificate{pair}
	}
	return c, nil
}

// wants reports whether a route is to carry a message.
func (s *Setting) wants(m *Message) bool {
	if len(s.Areas)+len(s.Gauges) > 0 && !slices.Contains(s.Areas, m.Area) && !slices.Contains(s.Gauges, m.Gauge) {
		return m.Event == Trial
	}
	switch m.Event {
	case Watched:
		return s.Watches
	case Cleared:
		return s.Ended || s.Kind == "alertmanager" || s.Kind == "mqtt" // these hold a state that must end
	case Ending:
		return s.Kind != "alertmanager" && s.Kind != "mqtt" // these hold alerts, and this is none
	case Reminder:
		return s.RepeatEvery > 0 && s.Kind != "alertmanager" // it is given everything that stands anyway
	}
	return true
}

// where names the receiver without anything secret.
func (s *Setting) where() string {
	u, err := url.Parse(s.URL)
	if err != nil {
		return ""
	}
	return u.Scheme + "://" + u.Host
}
