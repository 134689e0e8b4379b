package main

import (
	"context"
	"fmt"
	"testing"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/poll"
	"bridlewatch/config"
)

type named string

func (n named) Name() string                                   { return string(n) }
func (named) Tags() []collector.Tag                            { return nil }
func (named) Read(context.Context) ([]collector.Sample, error) { return nil, nil }
func (named) Close() error                                     { return nil }

// plantOf is n gauges of two sources each; each second gauge shares its
// second source with the gauge before.
func plantOf(n int) (*config.Config, []poll.Job) {
	cfg := &config.Config{}
	var jobs []poll.Job
	for i := range n {
		a, b := fmt.Sprint("a", i), fmt.Sprint("b", i/2)
		cfg.Gauges = append(cfg.Gauges, config.Gauge{Signals: []config.Signal{{Source: a}, {Source: b}}})
		names := []string{a}
		if i%2 == 0 {
			names = append(names, b)
		}
		for _, name := range names {
			cfg.Sources = append(cfg.Sources, config.Source{Name: name})
			jobs = append(jobs, poll.Job{Source: named(name), Every: time.Second})
		}
	}
	return cfg, jobs
}

func TestSourcesOfOneGaugeAreReadTogether(t *testing.T) {
	cfg, jobs := plantOf(1000)
	spread(cfg, jobs)
	phase := map[string]time.Duration{}
	seen := map[time.Duration]bool{}
	for _, j := range jobs {
		phase[j.Source.Name()] = j.Phase
		seen[j.Phase] = true
		if j.Phase < 0 || j.Phase >= time.Second/spreadOver {
			t.Fatalf("%s has phase %v", j.Source.Name(), j.Phase)
		}
	}
	for i, g := range cfg.Gauges {
		if a, b := phase[g.Signals[0].Source], phase[g.Signals[1].Source]; a != b {
			t.Fatalf("gauge %d is read at %v and %v", i, a, b)
		}
	}
	if len(seen) != 250 {
		t.Errorf("%d phases for 500 groups, want one each millisecond of a quarter second", len(seen))
	}
}

func TestASmallPlantIsReadAtTheTick(t *testing.T) {
	cfg, jobs := plantOf(spreadFrom)
	spread(cfg, jobs)
	for _, j := range jobs {
		if j.Phase != 0 {
			t.Fatalf("%s has phase %v", j.Source.Name(), j.Phase)
		}
	}
}
