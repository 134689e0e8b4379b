package api

import (
	"time"

	"bridlewatch/dashboards/plant"
)

// Health is how the service itself is.
type Health struct {
	Ready         bool      `json:"ready"`
	NotReady      []string  `json:"not_ready,omitempty" doc:"why it is not ready"`
	Version       string    `json:"version"`
	Site          string    `json:"site,omitempty"`
	Box           string    `json:"box,omitempty"`
	Started       time.Time `json:"started,omitzero"`
	Now           time.Time `json:"now" doc:"time of the plant"`
	ConfigVersion string    `json:"config_version"`
	ConfigError   string    `json:"config_error,omitempty"`
	Sources       []Source  `json:"sources"`
	Scans         uint64    `json:"scans"`
	ScansSkipped  uint64    `json:"scans_skipped"`
	StoreBytes    int64     `json:"store_bytes"`
	StoreError    string    `json:"store_error,omitempty"`
	Notices       []string  `json:"notices,omitempty"`
}

// Source is one endpoint that is polled.
type Source struct {
	Name     string    `json:"name"`
	Protocol string    `json:"protocol"`
	OK       bool      `json:"ok"`
	LastOK   time.Time `json:"last_ok,omitzero"`
	Trouble  string    `json:"trouble,omitempty"`
	Reads    uint64    `json:"reads"`
	Errors   uint64    `json:"errors"`

	LineSeconds float64  `json:"line_seconds,omitempty"`
	ClockBehind *float64 `json:"clock_behind_seconds,omitempty"`
	Remarks     []string `json:"remarks,omitempty"`
}

func sourceOf(s plant.SourceHealth) Source {
	out := Source{Name: s.Name, Protocol: s.Protocol, OK: s.OK, LastOK: s.LastOK, Trouble: s.Trouble, Reads: s.Reads, Errors: s.Errors,
		LineSeconds: s.LineTime().Seconds(), Remarks: s.Remarks}
	if s.SkewKnown {
		behind := s.Skew.Seconds()
		out.ClockBehind = &behind
	}
	return out
}

func healthOf(h plant.Health, now time.Time) Health {
	out := Health{
		Version: h.Version, Site: h.Site, Box: h.Box, Started: h.Started, Now: now, ConfigVersion: h.ConfigVersion, ConfigError: h.ConfigError,
		Scans: h.Scan.Scans, ScansSkipped: h.Scan.Skipped, StoreBytes: h.Store.Bytes, StoreError: h.Store.Error, Notices: h.Notices, Sources: []Source{},
	}
	out.NotReady, out.Ready = h.Ready()
	for _, s := range h.Sources {
		out.Sources = append(out.Sources, sourceOf(s))
	}
	return out
}
