package watch

import (
	"context"

	"bridlewatch/collector"
	"bridlewatch/collector/store"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
)

// Computer computes levels again from samples that were kept, with the
// configuration as it is now.
type Computer struct {
	watch *Watch
	place map[store.ID]spot
}

// spot is where a series goes: a unit and one of its signals.
type spot struct{ unit, signal int }

// NewComputer prepares to compute; s must know the samples.
func NewComputer(ctx context.Context, cfg *config.Config, s store.Store) (*Computer, error) {
	w, err := New(ctx, cfg, Options{Store: s})
	if err != nil {
		return nil, err
	}
	c := &Computer{watch: w, place: map[store.ID]spot{}}
	for k, t := range w.recorder.tracks {
		for i, id := range t.raw {
			c.place[id] = spot{k, i}
		}
	}
	return c, nil
}

// Inputs are the series of samples that are read.
func (c *Computer) Inputs() []store.ID {
	ids := make([]store.ID, 0, len(c.place))
	for id := range c.place {
		ids = append(ids, id)
	}
	return ids
}

// Compute maps the samples of one instant to levels, gaps and budgets. What a
// scan does not have is absent.
func (c *Computer) Compute(raw store.Scan) (store.Scan, error) {
	for _, u := range c.watch.units {
		for i := range u.raw {
			u.raw[i] = collector.Sample{Tag: collector.Tag(u.config.Signals[i].Tag), Quality: quantity.Absent, Reason: quantity.NotRead}
		}
	}
	for _, v := range raw.Values {
		at, ok := c.place[v.ID]
		if !ok {
			continue
		}
		u := c.watch.units[at.unit]
		u.raw[at.signal] = collector.Sample{
			Tag: u.raw[at.signal].Tag, Value: v.Value, Time: raw.Time, SourceTime: v.Source,
			Quality: quantity.Quality(v.Quality), Reason: quantity.Reason(v.Reason),
		}
	}
	out := store.Scan{Time: raw.Time, ConfigVersion: c.watch.options.Version}
	for k, u := range c.watch.units {
		u.evaluate(raw.Time)
		out.Values = c.watch.recorder.levelValues(out.Values, k, u)
	}
	return out, nil
}
