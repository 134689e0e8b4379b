package main

import (
	"time"

	"bridlewatch/collector/poll"
	"bridlewatch/config"
)

// Where there are more groups of sources than spreadFrom, their reads begin
// over a part of the interval instead of all at the tick: thousands of answers
// at one instant would wait for each other. Phases are whole grains, so that
// the poller wakes for several at once.
const (
	spreadFrom = 200
	spreadOver = 4 // of the interval, one part
	grain      = time.Millisecond
)

// spread gives the jobs phases. Sources that serve one gauge stay together, so
// that its readings are of one instant.
func spread(cfg *config.Config, jobs []poll.Job) {
	group := groups(cfg)
	place := map[string]int{} // of a group, in order of appearance
	for _, j := range jobs {
		if name := group[j.Source.Name()]; place[name] == 0 {
			place[name] = len(place) + 1
		}
	}
	if len(place) <= spreadFrom {
		return
	}
	for i := range jobs {
		n := place[group[jobs[i].Source.Name()]] - 1
		jobs[i].Phase = (jobs[i].Every / spreadOver * time.Duration(n) / time.Duration(len(place))).Truncate(grain)
	}
}

// groups names for each source the first of those it shares gauges with,
// directly or through others.
func groups(cfg *config.Config) map[string]string {
	first := map[string]string{}
	var of func(string) string
	of = func(name string) string {
		if first[name] == "" || first[name] == name {
			return name
		}
		return of(first[name])
	}
	for i := range cfg.Gauges {
		signals := cfg.Gauges[i].Signals
		for _, s := range signals {
			if a, b := of(signals[0].Source), of(s.Source); a != b {
				first[b] = a
			}
		}
	}
	all := map[string]string{}
	for i := range cfg.Sources {
		all[cfg.Sources[i].Name] = of(cfg.Sources[i].Name)
	}
	return all
}
