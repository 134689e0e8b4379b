// Package planttest is a scripted plant and a store in memory, so that every
// page can be tested with every kind of gauge. All of it is invented.
package planttest

import (
	"slices"
	"sync"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/dashboards/plant"
)

// Plant is a plant whose answers are set by the test.
type Plant struct {
	mu     sync.Mutex
	now    time.Time
	gauges []plant.GaugeView
	health plant.Health
	proven map[string][]coverage.Proof
	tests  map[string][]cause.Test
	blind  map[string][]coverage.BlindSpot
}

var _ plant.Plant = (*Plant)(nil)

// Now is the instant all fixtures are made for.
var Now = time.Date(2026, 11, 25, 14, 5, 0, 0, time.UTC)

// New returns a plant with the given gauges.
func New(gauges ...plant.GaugeView) *Plant {
	return &Plant{
		now: Now, gauges: gauges, health: health(),
		proven: map[string][]coverage.Proof{}, tests: map[string][]cause.Test{}, blind: map[string][]coverage.BlindSpot{},
	}
}

// Gauges returns the gauges.
func (p *Plant) Gauges() []plant.GaugeView {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.gauges)
}

// Gauge returns one gauge.
func (p *Plant) Gauge(tag string) (plant.GaugeView, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, g := range p.gauges {
		if g.Sheet.Tag == tag {
			return g, true
		}
	}
	return plant.GaugeView{}, false
}

// Set replaces the view of a gauge of the same tag.
func (p *Plant) Set(g plant.GaugeView) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for i := range p.gauges {
		if p.gauges[i].Sheet.Tag == g.Sheet.Tag {
			p.gauges[i] = g
		}
	}
}

// SetHealth replaces the health of the service.
func (p *Plant) SetHealth(h plant.Health) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.health = h
}

// Explain returns the evidence of every finding.
func (p *Plant) Explain(tag string) []cause.Evidence {
	g, _ := p.Gauge(tag)
	var all []cause.Evidence
	for _, f := range g.Result.Findings {
		all = append(all, f.Evidence...)
	}
	return all
}

// Settle returns the tests set for the gauge.
func (p *Plant) Settle(tag string) []cause.Test { return p.tests[tag] }

// Blind returns the blind spots set for the gauge.
func (p *Plant) Blind(tag string) []coverage.BlindSpot { return p.blind[tag] }

// Proven returns the proofs set for the gauge.
func (p *Plant) Proven(tag string) []coverage.Proof { return p.proven[tag] }

// Health returns the health of the service.
func (p *Plant) Health() plant.Health {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.health
}

// Now returns the plant's time.
func (p *Plant) Now() time.Time { return p.now }

func health() plant.Health {
	return plant.Health{
		Site: "Kestrel Bay utilities", Box: "edge-1", Version: "test", Started: Now.Add(-70 * time.Hour),
		ConfigVersion: "9f2c41d07ab3", ConfigFile: "/etc/bridlewatch/plant.yaml", ConfigLoaded: Now.Add(-70 * time.Hour),
		Sources: []plant.SourceHealth{
			{Name: "boiler house", Protocol: "modbus-tcp", Endpoint: "10.1.2.3:502", OK: true, LastOK: Now.Add(-400 * time.Millisecond), Reads: 251_840, Errors: 3, Took: 12 * time.Millisecond,
				Every: time.Second, Good: 40, Bad: 2, Timeouts: 7, Units: []plant.UnitHealth{{ID: 1, Requests: 3, LineTime: 180 * time.Millisecond}, {ID: 4, Refused: []string{"LT-104", "TT-104"}, Retrial: Now.Add(time.Hour), LineTime: 60 * time.Millisecond}}},
			{Name: "tank farm", Protocol: "opc-ua", Endpoint: "opc.tcp://10.1.2.9:4840", Trouble: "no answer within 2 s, 12 times", LastOK: Now.Add(-24 * time.Minute), Reads: 80_211, Errors: 12, Took: 2 * time.Second},
		},
		Scan:  plant.ScanHealth{Every: time.Second, Last: Now.Add(-300 * time.Millisecond), Took: 4 * time.Millisecond, Scans: 251_843, Skipped: 1},
		Store: plant.StoreHealth{Dir: "/var/lib/bridlewatch", Bytes: 812 << 20, FreeBytes: 41 << 30, Oldest: Now.Add(-400 * 24 * time.Hour), Newest: Now.Add(-300 * time.Millisecond)},
		Clock: plant.ClockHealth{Known: true, Synchronised: true, Offset: 2 * time.Millisecond},
	}
}
