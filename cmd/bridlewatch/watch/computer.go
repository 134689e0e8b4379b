package watch

import (
	"context"
	"fmt"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/store"
	"bridlewatch/compare"
	"bridlewatch/config"
)

// Computer computes levels again from samples that were kept, with the
// configuration as it is now.
type Computer struct {
	watch  *Watch
	place  map[store.ID]int   // of a series: its sample in a snapshot
	absent []collector.Sample // a snapshot without any
	batch  *batch
}

// NewComputer prepares to compute; s must know the samples.
func NewComputer(ctx context.Context, cfg *config.Config, s store.Store) (*Computer, error) {
	w, err := New(ctx, cfg, Options{Store: s})
	if err != nil {
		return nil, err
	}
	c := &Computer{watch: w, place: map[store.ID]int{}}
	for k, t := range w.recorder.tracks {
		for i, id := range t.raw {
			c.place[id] = len(c.absent)
			c.absent = append(c.absent, absent(&w.units[k].config.Signals[i]))
		}
	}
	c.batch = newBatch(len(c.absent))
	return c, nil
}

// Remember has a gauge honour, each at its time, the works booked for it: what
// an adjustment left is the new normal from then on, and an isolated gauge is
// not compared. They are in order of time.
func (c *Computer) Remember(tag string, works []compare.Work) error {
	return c.watch.remember(tag, works)
}

func (w *Watch) remember(tag string, works []compare.Work) error {
	i, ok := w.index[tag]
	if !ok {
		return fmt.Errorf("no gauge %s in the configuration", tag)
	}
	w.units[i].past = works
	return nil
}

// Inputs are the series of samples that are read.
func (c *Computer) Inputs() []store.ID {
	ids := make([]store.ID, 0, len(c.place))
	for id := range c.place {
		ids = append(ids, id)
	}
	return ids
}

// Compute maps the samples of instants in order of time to levels, gaps and
// budgets. What a scan does not have is absent. Gauges share all processors.
func (c *Computer) Compute(raw []store.Scan) ([]store.Scan, error) {
	out := make([]store.Scan, 0, len(raw))
	for len(raw) > 0 {
		n := min(len(raw), cap(c.batch.times))
		c.load(raw[:n])
		done, err := c.levels()
		if err != nil {
			return nil, err
		}
		out, raw = append(out, done...), raw[n:]
	}
	return out, nil
}

// load puts scans of the store into the batch.
func (c *Computer) load(raw []store.Scan) {
	c.batch.times = c.batch.times[:0]
	for k := range raw {
		copy(c.batch.next, c.absent)
		for _, v := range raw[k].Values {
			if at, ok := c.place[v.ID]; ok {
				fromStore(&c.batch.next[at], raw[k].Time, v)
			}
		}
		c.batch.add(raw[k].Time)
	}
}

// levels evaluates the batch. The values of a scan are in the order of units,
// whichever was ready first.
func (c *Computer) levels() ([]store.Scan, error) {
	w := c.watch
	byUnit := make([][]store.Value, len(w.units)) // of one scan after another
	err := sideBySide(w.units, nil, func(k int, u *unit) error {
		u.through(c.batch, func(time.Time) { byUnit[k] = w.recorder.levelValues(byUnit[k], k, u) })
		return nil
	})
	out := make([]store.Scan, len(c.batch.times))
	for i, at := range c.batch.times {
		out[i] = store.Scan{Time: at, ConfigVersion: w.options.Version}
		for k, values := range byUnit {
			n := w.recorder.tracks[k].computed()
			out[i].Values = append(out[i].Values, values[i*n:(i+1)*n]...)
		}
	}
	return out, err
}
