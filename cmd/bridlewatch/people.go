package main

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/config"
	"bridlewatch/dashboards"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/access/certificate"
)

// openAccess lets in the people and programs of configuration and store. A
// rehearsal is open to everybody.
func (s *station) openAccess(ctx context.Context, o stationOptions) (err error) {
	cfg := s.config
	options := access.Options{
		Store: s.store, Users: configuredUsers(cfg), Tokens: configuredTokens(cfg), ReadOnly: cfg.Service.ReadOnly, Idle: cfg.Service.SessionIdle,
		Base: strings.TrimRight(cfg.Service.BasePath, "/"), Log: s.log, SessionFile: filepath.Join(watch.StateDir(o.dir), "sessions.json"),
		Secure: cfg.Service.Encrypted() || strings.HasPrefix(cfg.Service.ExternalURL, "https://"),
	}
	if u, err := url.Parse(cfg.Service.ExternalURL); err == nil && u.Hostname() != "" {
		options.Hosts = []string{u.Hostname()}
	}
	switch {
	case o.rehearsal != "":
		options.Open, options.SessionFile = access.AllOpen, ""
	case cfg.Service.OpenAccess:
		options.Open = access.LocalOpen
	}
	s.access, err = access.Open(ctx, options)
	return err
}

// actor tells the desk who asks. Without login it takes a name given by hand,
// on this machine.
func (s *station) actor() dashboards.Actor {
	if s.access.Openness() != access.LogIn {
		return nil
	}
	return access.Who
}

func configuredUsers(cfg *config.Config) []access.User {
	var out []access.User
	for _, u := range cfg.Users {
		out = append(out, access.FixedUser(u.Name, u.FullName, access.Role(u.Role), u.PasswordHash.Reveal()))
	}
	return out
}

func configuredTokens(cfg *config.Config) []access.Token {
	var out []access.Token
	for _, t := range cfg.Tokens {
		out = append(out, access.FixedToken(t.Name, access.Role(t.Role), t.Value.Reveal(), t.Expires))
	}
	return out
}

// mayListen refuses to open the pages to other machines while nobody could
// log in.
func (s *station) mayListen(address string) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return fmt.Errorf("listen on %s: %w", address, err)
	}
	if access.IsLoopback(host) {
		return nil
	}
	if err := s.access.Ready(); err != nil {
		return withCode(exitUsage, fmt.Errorf("listen on %s: %w", address, err))
	}
	return nil
}

// openCertificate reads or makes the certificate of the pages, where they are
// encrypted.
func (s *station) openCertificate() (err error) {
	switch service := &s.config.Service; {
	case service.TLSSelfMade:
		names, addresses := reachedBy(service)
		s.certificate, err = certificate.SelfMade(filepath.Join(s.dir, "certificates"), names, addresses, s.log)
	case service.TLSCert != "":
		s.certificate, err = certificate.Open(service.TLSCert, service.TLSKey, s.log)
	}
	return err
}

// reachedBy lists the names and the addresses people reach the box by.
func reachedBy(service *config.Service) (names, addresses []string) {
	names = []string{"localhost"}
	if u, err := url.Parse(service.ExternalURL); err == nil && u.Hostname() != "" {
		names = []string{u.Hostname(), "localhost"}
	}
	if host, err := os.Hostname(); err == nil && host != "" && !slices.Contains(names, host) {
		names = append(names, host)
	}
	list, err := net.InterfaceAddrs()
	if err != nil {
		return names, []string{"127.0.0.1", "::1"} // the names are what matters
	}
	for _, a := range list {
		if ip, ok := a.(*net.IPNet); ok {
			addresses = append(addresses, ip.IP.String())
		}
	}
	return names, addresses
}

// openConsole lets the command line of this machine manage users and tokens
// while the service runs.
func (s *station) openConsole(dir string) error {
	if s.access.Openness() == access.AllOpen {
		return nil
	}
	c := access.Console{URL: s.localURL()}
	if s.certificate != nil {
		c.Certificate = s.certificate.Fingerprint()
	}
	return s.access.OpenConsole(filepath.Join(dir, access.ConsoleFile), c)
}

// localURL is how this machine itself reaches the pages.
func (s *station) localURL() string {
	scheme, _, _ := strings.Cut(s.url(), "://")
	host, port, err := net.SplitHostPort(s.listener.Addr().String())
	if err != nil {
		return s.url()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return scheme + "://" + net.JoinHostPort(host, port) + s.config.Service.BasePath
}
