package planttest

import (
	"fmt"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/plant"
)

// Watched lets simulated gauges of every make run for a while, each with the
// fault of the given kinds that its make can have, and compares them as the
// service does. What the comparison says is real, not scripted.
func Watched(kinds []scenario.Kind, span, every time.Duration) (*Plant, error) {
	p := New()
	for i, m := range scenario.Makes() {
		for j, kind := range kinds {
			sheet := *m.Sheet()
			sheet.Tag, sheet.Service = fmt.Sprintf("LG-%d%02d", i+1, j+1), m.Name
			u, err := scenario.New(&sheet, scenario.Options{Seed: uint64(100*i + j), Start: Now.Add(-span)})
			if err != nil {
				return nil, fmt.Errorf("unit %s: %w", sheet.Tag, err)
			}
			if kind != "" && u.Inject(scenario.Fault{Gauge: sheet.Tag, Kind: kind, Delay: span / 3}) != nil {
				continue // this make has no such part
			}
			if err := p.watch(u, span, every); err != nil {
				return nil, err
			}
		}
	}
	return p, nil
}

// watch compares one unit until Now and adds its view.
func (p *Plant) watch(u *scenario.Unit, span, every time.Duration) error {
	g, err := compare.New(*u.Sheet())
	if err != nil {
		return fmt.Errorf("gauge %s: %w", u.Sheet().Tag, err)
	}
	var state compare.State
	view := plant.GaugeView{Sheet: u.Sheet(), MaxAge: 3 * every}
	for at := Now.Add(-span); !at.After(Now); at = at.Add(every) {
		seen, err := u.Step(at)
		if err != nil {
			return fmt.Errorf("gauge %s at %s: %w", u.Sheet().Tag, at, err)
		}
		view.Result = g.Evaluate(at, &seen, &state)
		view.Belief = g.Believe(&seen, &state, &view.Result)
		view.LastSample, view.Readings = at, readingsOf(u, &seen)
	}
	p.gauges = append(p.gauges, view)
	tag := u.Sheet().Tag
	p.proven[tag], p.tests[tag], p.blind[tag] = g.Proven(&state), g.Settle(&state), g.Blind(Now, &state)
	return nil
}

func readingsOf(u *scenario.Unit, in *gauge.Snapshot) []plant.InstrumentReading {
	s := u.Sheet()
	rs := []plant.InstrumentReading{{Tag: s.Float.Tag, Role: plant.Float, Raw: in.Float.Value, Unit: "m", Value: in.Float.Value, SI: "m", Quality: in.Float.Quality, Reason: in.Float.Reason}}
	if t := s.Transmitter; t != nil {
		rs = append(rs, plant.InstrumentReading{Tag: t.Tag, Role: plant.Transmitter, Raw: in.Transmitter.Value, Unit: "m", Value: in.Transmitter.Value, SI: "m", Quality: in.Transmitter.Quality, Reason: in.Transmitter.Reason})
	}
	for i, point := range s.Points {
		rs = append(rs, plant.InstrumentReading{Tag: point.Tag, Role: plant.Point, Raw: in.Points[i].Value, Value: in.Points[i].Value, Quality: in.Points[i].Quality, Reason: in.Points[i].Reason})
	}
	return rs
}
