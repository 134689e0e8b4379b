package watch

import (
	"encoding/json"
	"fmt"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/config"
)

// Course is one gauge taken through history scan by scan, by the code of the
// live service. It can be forked: the copy knows what the original knows and
// goes its own way from there. A Course is not safe for concurrent use.
type Course struct{ unit *unit }

// NewCourse begins a course of one gauge. works are the records of what people
// did at it, in order of time; each takes effect at its time.
func NewCourse(g config.Gauge, works []compare.Work) (*Course, error) {
	u, err := newUnit(g, 0, 0)
	if err != nil {
		return nil, fmt.Errorf("gauge %s: %w", g.Sheet.Tag, err)
	}
	u.past = works
	u.state.KeepConditions()
	return &Course{u}, nil
}

// Step takes the gauge through one scan. The samples are in the order of its
// signals and stay as they are until the next step. The result is valid until
// then.
func (c *Course) Step(at time.Time, samples []collector.Sample) *compare.Result {
	c.unit.lend(samples)
	c.unit.step(at)
	return &c.unit.result
}

// Fork returns a copy. What it knows goes the way it goes in a restart of the
// service.
func (c *Course) Fork() (*Course, error) {
	state, err := json.Marshal(&c.unit.state)
	if err != nil {
		return nil, fmt.Errorf("copy the state of gauge %s: %w", c.unit.config.Sheet.Tag, err)
	}
	fork, err := NewCourse(c.unit.config, c.unit.past)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(state, &fork.unit.state); err != nil {
		return nil, fmt.Errorf("copy the state of gauge %s: %w", c.unit.config.Sheet.Tag, err)
	}
	return fork, nil
}

// Changes are the findings the last step opened, raised, renamed or closed.
func (c *Course) Changes(at time.Time) []Change { return changesOf(at, c.unit) }

// Blind says what the instruments of the gauge cannot see.
func (c *Course) Blind(now time.Time) []coverage.BlindSpot {
	return c.unit.gauge.Blind(now, &c.unit.state)
}

// Finding is an open finding as the last step left it.
func (c *Course) Finding(id string) (cause.Finding, bool) {
	for i := range c.unit.result.Findings {
		if f := &c.unit.result.Findings[i]; f.ID == id {
			return *f, true
		}
	}
	return cause.Finding{}, false
}
