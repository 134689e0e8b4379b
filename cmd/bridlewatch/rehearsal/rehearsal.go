// Package rehearsal is a simulated plant that can be watched like a real one:
// Modbus TCP devices and an OPC UA server on loopback, fed by the forward
// physics of package scenario, with faults injected on request.
//
// The simulated clock is driven from outside: Advance moves every gauge to a
// later time and refreshes what the servers hold, so a service that advances,
// polls and evaluates in turn runs at any speed over real sockets. Nothing
// listens beyond 127.0.0.1, and nothing can be written.
package rehearsal

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
	"bridlewatch/dashboards/times"
)

// DefaultSpeed shows a float that stuck after five minutes within half a
// minute of watching.
const DefaultSpeed = 60

// Options say what is rehearsed.
type Options struct {
	Config *config.Config   // whose gauges are simulated; nil: the embedded plant
	Faults []scenario.Fault // each names its gauge
	Seed   uint64
	Start  time.Time // of the simulated clock; zero: now, to the second
	Speed  float64   // for Text only; 0: DefaultSpeed
}

// Plant is a running simulated plant.
type Plant struct {
	config  *config.Config
	faults  []scenario.Fault
	speed   float64
	gauges  []*simulated
	devices map[string]*modbusServer // by source
	servers map[string]*opcServer

	mu  sync.Mutex
	now time.Time
}

// simulated is one gauge with the outlets of its signals.
type simulated struct {
	unit    *scenario.Unit
	shows   gauge.Snapshot
	signals []*config.Signal
}

// Start simulates the gauges of a configuration and starts the servers that
// show them. It fails when a fault names no gauge or cannot happen to it, and
// when a source cannot be served. The servers stop with Close.
func Start(ctx context.Context, o Options) (*Plant, error) {
	if o.Config == nil {
		embedded, err := Embedded()
		if err != nil {
			return nil, err
		}
		o.Config = embedded
	}
	if o.Start.IsZero() {
		o.Start = time.Now().UTC().Truncate(time.Second)
	}
	if o.Speed <= 0 {
		o.Speed = DefaultSpeed
	}
	p := &Plant{
		config: copyConfig(o.Config), faults: slices.Clone(o.Faults), speed: o.Speed, now: o.Start,
		devices: map[string]*modbusServer{}, servers: map[string]*opcServer{},
	}
	if err := p.simulate(o); err != nil {
		return nil, err
	}
	if err := p.serve(ctx); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	if err := p.Advance(o.Start); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	return p, nil
}

// copyConfig copies what the rehearsal changes.
func copyConfig(c *config.Config) *config.Config {
	out := *c
	out.Sources = slices.Clone(c.Sources)
	out.Gauges = slices.Clone(c.Gauges)
	for i := range out.Gauges {
		out.Gauges[i].Signals = slices.Clone(c.Gauges[i].Signals)
	}
	return &out
}

// simulate makes a unit of every gauge.
func (p *Plant) simulate(o Options) error {
	for i := range p.config.Gauges {
		g := &p.config.Gauges[i]
		unit, err := newUnit(&g.Sheet, o, i)
		if err != nil {
			return err
		}
		s := &simulated{unit: unit}
		for k := range g.Signals {
			s.signals = append(s.signals, &g.Signals[k])
		}
		p.gauges = append(p.gauges, s)
	}
	for _, f := range o.Faults {
		if !slices.ContainsFunc(p.config.Gauges, func(g config.Gauge) bool { return g.Sheet.Tag == f.Gauge }) {
			return &scenario.FaultError{Text: f.String(), Reason: fmt.Sprintf("there is no gauge %q; the gauges are %s", f.Gauge, p.tags())}
		}
	}
	return nil
}

// newUnit simulates the gauge with a number.
func newUnit(sheet *datasheet.Sheet, o Options, number int) (*scenario.Unit, error) {
	return scenario.New(sheet, scenario.Options{
		Process: processOf(sheet), Service: calm(), Faults: o.Faults, Seed: o.Seed*1_000_003 + uint64(number), Start: o.Start,
	})
}

func (p *Plant) tags() string {
	tags := make([]string, len(p.config.Gauges))
	for i := range p.config.Gauges {
		tags[i] = p.config.Gauges[i].Sheet.Tag
	}
	return strings.Join(tags, ", ")
}

// Config returns the configuration with the addresses of the running servers.
func (p *Plant) Config() *config.Config { return p.config }

// Clock returns the simulated time.
func (p *Plant) Clock() time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

// Text says in a sentence what is being rehearsed.
func (p *Plant) Text() string {
	text := fmt.Sprintf("%d simulated gauges at %g times the speed of time", len(p.gauges), p.speed)
	if len(p.faults) == 0 {
		return text + ", all healthy."
	}
	names := make([]string, len(p.faults))
	for i, f := range p.faults {
		names[i] = inWords(f)
	}
	return text + "; faults begin by themselves: " + strings.Join(names, ", ") + "."
}

// inWords writes a fault for people: "LG-104 float stuck after 5 min".
func inWords(f scenario.Fault) string {
	text := f.Gauge + " "
	if f.Part != "" {
		text += f.Part + " "
	}
	text += strings.ReplaceAll(string(f.Kind), "-", " ")
	if f.Delay > 0 {
		text += " after " + times.Span(f.Delay)
	}
	return text
}

// Truth returns what no instrument of a gauge knows.
func (p *Plant) Truth(tag string) (scenario.Truth, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, g := range p.gauges {
		if g.unit.Sheet().Tag == tag {
			return g.unit.Truth(), true
		}
	}
	return scenario.Truth{}, false
}

// Advance moves every gauge to a later simulated time and refreshes what the
// servers hold. A time that is past changes nothing.
func (p *Plant) Advance(to time.Time) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	var failed []error
	for _, g := range p.gauges {
		shows, err := g.unit.Step(to)
		if err != nil {
			failed = append(failed, err)
		}
		g.shows = shows
	}
	if to.After(p.now) {
		p.now = to
	}
	p.show()
	return errors.Join(failed...)
}

// show writes the readings into the servers, each server at once.
func (p *Plant) show() {
	for name, d := range p.devices {
		d.memory.mu.Lock()
		for _, g := range p.gauges {
			for _, s := range g.signals {
				if s.Source == name {
					d.memory.put(s, readingOf(&g.shows, s))
				}
			}
		}
		d.memory.mu.Unlock()
	}
	for name, v := range p.servers {
		for _, g := range p.gauges {
			for _, s := range g.signals {
				if s.Source == name {
					r := readingOf(&g.shows, s)
					raw, ok := rawValue(s.Spec, r)
					v.nodes[s.Node].set(r, raw, ok, p.now)
				}
			}
		}
	}
}

// readingOf returns the reading a signal carries.
func readingOf(s *gauge.Snapshot, sig *config.Signal) quantity.Reading {
	return *s.Of(string(sig.Role), sig.Point)
}

// Close stops the servers.
func (p *Plant) Close() error {
	var errs []error
	for _, d := range p.devices {
		errs = append(errs, d.close())
	}
	for _, s := range p.servers {
		errs = append(errs, s.close())
	}
	return errors.Join(errs...)
}
