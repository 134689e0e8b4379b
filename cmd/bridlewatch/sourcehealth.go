package main

import (
	"fmt"
	"strings"

	"bridlewatch/collector"
	"bridlewatch/collector/modbus"
	"bridlewatch/collector/poll"
	"bridlewatch/config"
	"bridlewatch/dashboards"
)

// sourceHealth joins what the configuration, the poller and the sources know.
func (f *feed) sourceHealth(cfg *config.Config) []dashboards.SourceHealth {
	stats := map[string]poll.Stats{}
	for _, st := range f.poller.Stats() {
		stats[st.Source] = st
	}
	units := map[string][]dashboards.UnitHealth{}
	for _, j := range f.jobs {
		units[j.Source.Name()] = unitsOf(j.Source)
	}
	var out []dashboards.SourceHealth
	for _, src := range cfg.Sources {
		h := dashboards.SourceHealth{Name: src.Name, Protocol: string(src.Protocol), Endpoint: src.Address + src.Endpoint + src.Broker + src.Folder, Units: units[src.Name]}
		if st, ok := stats[src.Name]; ok {
			fillHealth(&h, &st)
		}
		out = append(out, h)
	}
	return out
}

func fillHealth(h *dashboards.SourceHealth, st *poll.Stats) {
	h.OK, h.LastOK = st.LastError == nil && !st.LastSuccess.IsZero(), st.LastSuccess
	h.Reads, h.Errors, h.Took, h.Every = st.Scans, st.Failures, st.LastDuration, st.Every
	h.Good, h.Bad, h.Late, h.MaxLateness, h.Skew, h.SkewKnown = st.Good, st.Bad, st.Late, st.MaxLateness, st.Skew, st.SkewKnown
	h.Timeouts, h.Refusals, h.BadFrames, h.Reconnects = st.Timeouts, st.Exceptions, st.BadFrames, st.Reconnects
	for _, r := range st.Remarks {
		h.Remarks = append(h.Remarks, remark(r))
	}
	if st.LastError != nil {
		h.Trouble = st.LastError.Error()
	}
}

// unitsOf asks a source that has several units behind it.
func unitsOf(source any) []dashboards.UnitHealth {
	many, ok := source.(interface{ Units() []modbus.UnitHealth })
	if !ok {
		return nil
	}
	var out []dashboards.UnitHealth
	for _, u := range many.Units() {
		unit := dashboards.UnitHealth{ID: u.UnitID, Failures: u.Failures, NotUntil: u.NotUntil, Retrial: u.Retrial, Requests: u.Requests, LineTime: u.LineTime, MaxRegisters: u.MaxRegisters}
		for _, t := range u.Refused {
			unit.Refused = append(unit.Refused, string(t))
		}
		out = append(out, unit)
	}
	return out
}

// remark names the signals it concerns, a few of many.
func remark(r collector.Remark) string {
	const shown = 4
	var names []string
	for _, t := range r.Tags[:min(shown, len(r.Tags))] {
		names = append(names, string(t))
	}
	if more := len(r.Tags) - shown; more > 0 {
		names = append(names, fmt.Sprintf("and %d more", more))
	}
	if len(names) == 0 {
		return r.What
	}
	return strings.Join(names, ", ") + ": " + r.What
}
