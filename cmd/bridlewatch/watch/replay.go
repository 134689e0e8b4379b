package watch

import (
	"cmp"
	"context"
	"errors"
	"io"
	"runtime"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"bridlewatch/collector"
	"bridlewatch/compare/cause"
	"bridlewatch/config"
)

// History is what a replay reads: snapshots in the order of time, io.EOF at
// the end. A snapshot is valid until the next call.
type History interface {
	Next() (collector.Snapshot, error)
}

// block is how many snapshots are read before the gauges look at them, so that
// gauges can be evaluated side by side.
const block = 4096

// Summary is what a replay says at the end.
type Summary struct {
	From      time.Time      `json:"from"`
	To        time.Time      `json:"to"`
	Snapshots int            `json:"snapshots"`
	Gauges    []GaugeSummary `json:"gauges"`
}

// GaugeSummary is one gauge of a summary.
type GaugeSummary struct {
	Gauge    string `json:"gauge"`
	Alerts   int    `json:"alerts"`
	Watches  int    `json:"watches"` // findings that never became alerts
	Open     int    `json:"open"`    // at the end
	Category string `json:"category"`
	Headline string `json:"headline"`
}

// Replay takes history through the same evaluation as a live service. Gauges
// share all processors; changes come in the order of time. progress, when not
// nil, is called between blocks.
func Replay(ctx context.Context, cfg *config.Config, h History, onChange func(Change), progress func()) (Summary, error) {
	w, err := New(ctx, cfg, Options{})
	if err != nil {
		return Summary{}, err
	}
	r := replay{units: w.units, tally: make([]tally, len(w.units)), out: make([][]Change, len(w.units))}
	for k := range r.tally {
		r.tally[k].alerts = map[string]bool{}
	}
	n := len(Tags(cfg))
	snaps := make([]collector.Snapshot, 0, block)
	samples := make([]collector.Sample, block*n)
	for end := false; !end && ctx.Err() == nil; {
		snaps = snaps[:0]
		for len(snaps) < block {
			s, err := h.Next()
			if errors.Is(err, io.EOF) {
				end = true
				break
			}
			if err != nil {
				return Summary{}, err
			}
			own := samples[len(snaps)*n : (len(snaps)+1)*n]
			copy(own, s.Samples)
			snaps = append(snaps, collector.Snapshot{Time: s.Time, Samples: own})
		}
		if err := r.evaluate(ctx, snaps); err != nil {
			return Summary{}, err
		}
		for _, c := range r.drain() {
			onChange(c)
		}
		if progress != nil {
			progress()
		}
	}
	return r.summary(), ctx.Err()
}

// replay is a replay under way.
type replay struct {
	units    []*unit
	tally    []tally
	out      [][]Change // by unit, since the last drain
	from, to time.Time
	count    int
}

// tally counts the findings of one unit.
type tally struct {
	opened, open int
	alerts       map[string]bool // by finding
}

func (r *replay) evaluate(ctx context.Context, snaps []collector.Snapshot) error {
	if len(snaps) == 0 {
		return nil
	}
	if r.count == 0 {
		r.from = snaps[0].Time
	}
	r.to = snaps[len(snaps)-1].Time
	r.count += len(snaps)
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for k, u := range r.units {
		g.Go(func() error {
			for _, s := range snaps {
				u.take(s.Samples)
				u.evaluate(s.Time)
				r.collect(k, s.Time, u)
			}
			return ctx.Err()
		})
	}
	return g.Wait()
}

// collect keeps the changes of one evaluation of unit k.
func (r *replay) collect(k int, at time.Time, u *unit) {
	if !u.result.Changed {
		return
	}
	t := &r.tally[k]
	for _, c := range changesOf(at, u) {
		r.out[k] = append(r.out[k], c)
		switch c.What {
		case "opened":
			t.opened, t.open = t.opened+1, t.open+1
		case "closed":
			t.open--
		}
		if c.Finding.Tier == cause.Alert {
			t.alerts[c.Finding.ID] = true
		}
	}
}

// drain returns the changes of all units since the last call, by time.
func (r *replay) drain() []Change {
	var all []Change
	for k := range r.out {
		all = append(all, r.out[k]...)
		r.out[k] = nil
	}
	slices.SortStableFunc(all, func(a, b Change) int {
		return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.Finding.Gauge, b.Finding.Gauge))
	})
	return all
}

func (r *replay) summary() Summary {
	s := Summary{From: r.from, To: r.to, Snapshots: r.count}
	for k, u := range r.units {
		t := r.tally[k]
		s.Gauges = append(s.Gauges, GaugeSummary{
			Gauge: u.config.Sheet.Tag, Alerts: len(t.alerts), Watches: t.opened - len(t.alerts), Open: t.open,
			Category: string(u.result.Category), Headline: u.result.Headline,
		})
	}
	return s
}
