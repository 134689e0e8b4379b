package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/opcua"
	"bridlewatch/config"
	"bridlewatch/dashboards"
)

// trust shows the trust folders of a configuration on the pages. It is what
// the command of the same name does.
type trust struct {
	folders []sharedFolder
	now     func() time.Time
}

// sharedFolder is a folder with the sources that judge by it.
type sharedFolder struct {
	opcua.TrustFolder
	sources string
}

// trustOf finds the folders of the sources that show certificates; nil when no
// source does.
func trustOf(cfg *config.Config, dataDir string) dashboards.Trust {
	t := &trust{now: time.Now}
	for i := range cfg.Sources {
		src := &cfg.Sources[i]
		if src.Protocol != config.OPCUA || src.SecurityPolicy == "None" || src.ServerThumbprint != "" {
			continue
		}
		f := trustFolder(src, dataDir)
		at := slices.IndexFunc(t.folders, func(x sharedFolder) bool { return x.Dir == f.Dir })
		if at < 0 {
			t.folders = append(t.folders, sharedFolder{f, src.Name})
			continue
		}
		t.folders[at].sources += ", " + src.Name
	}
	if len(t.folders) == 0 {
		return nil
	}
	return t
}

// Certificates lists every folder, those that wait first.
func (t *trust) Certificates() ([]dashboards.Certificate, error) {
	var all []dashboards.Certificate
	for _, f := range t.folders {
		list, err := f.List()
		if err != nil {
			return nil, fmt.Errorf("certificates of %s: %w", f.sources, err)
		}
		for _, c := range list {
			all = append(all, t.shown(f, c))
		}
	}
	slices.SortStableFunc(all, func(a, b dashboards.Certificate) int {
		switch {
		case a.Trusted == b.Trusted:
			return 0
		case b.Trusted:
			return -1
		}
		return 1
	})
	return all, nil
}

func (t *trust) shown(f sharedFolder, c opcua.Certificate) dashboards.Certificate {
	shown := dashboards.Certificate{
		Source: f.sources, Thumbprint: c.Thumbprint, SHA1: c.SHA1, Subject: c.Subject, URI: c.URI,
		NotBefore: c.NotBefore, NotAfter: c.NotAfter, Trusted: c.Trusted, Problem: c.Problem,
	}
	if c.Problem == "" {
		shown.Warning = collector.Expiry(c.NotAfter, t.now())
	}
	return shown
}

// Approve trusts a certificate.
func (t *trust) Approve(source, thumb string) (dashboards.Certificate, error) {
	return t.move(source, thumb, opcua.TrustFolder.Approve)
}

// Withdraw trusts it no more.
func (t *trust) Withdraw(source, thumb string) (dashboards.Certificate, error) {
	return t.move(source, thumb, opcua.TrustFolder.Withdraw)
}

func (t *trust) move(source, thumb string, move func(opcua.TrustFolder, string) (opcua.Certificate, error)) (dashboards.Certificate, error) {
	for _, f := range t.folders {
		if f.sources == source || slices.Contains(strings.Split(f.sources, ", "), source) {
			c, err := move(f.TrustFolder, thumb)
			return t.shown(f, c), err
		}
	}
	return dashboards.Certificate{}, fmt.Errorf("no source %q shows certificates", source)
}
