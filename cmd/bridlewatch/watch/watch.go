// Package watch is the running service. It is the one place that knows the
// order of things:
//
//	snapshot -> convert -> evaluate -> store samples and levels ->
//	store findings -> tell whoever must know -> refresh the pages
//
// Time comes in with each snapshot, so a live service, a rehearsal at an hour
// a second and a replay of years run the same code.
package watch

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/store"
	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/config"
	"bridlewatch/dashboards"
)

// Change is a finding that was opened, became an alert or was closed.
type Change struct {
	Time     time.Time
	What     string // "opened", "upgraded", "revised" to another name, "closed"
	Finding  cause.Finding
	Category compare.Category // of the gauge with it
}

// Options are what a Watch may be given beside its configuration. Every field
// may be left empty.
type Options struct {
	Store    store.Store        // nil: nothing is recorded
	StateDir string             // where detector state is kept between runs; "": nowhere
	OnChange func(Change)       // called in order, not concurrently
	Publish  func(gauge string) // called after a gauge was evaluated
	After    func()             // called when the views of a scan are complete
	Log      *slog.Logger
	Health   func(*dashboards.Health) // completes the health of the service
	Version  uint32                   // of the configuration, stored with every scan
	Batch    bool                     // group scans into few commits; for clocks that run fast
	Views    bool                     // keep a view of each gauge for the pages
}

// Watch watches every gauge of one configuration.
type Watch struct {
	config   *config.Config
	options  Options
	units    []*unit
	index    map[string]int
	recorder *recorder
	writer   *writer
	keeper   *keeper
	unsaved  []store.Document // findings the store has not taken yet, oldest first

	mu    sync.RWMutex // guards what follows
	now   time.Time
	views []dashboards.GaugeView
	scans uint64
	took  time.Duration
	fault string // why history has stopped, empty: it has not
	wait  string // why nothing is found for a while, empty: something may be
}

// New makes a watch and restores the state of its detectors.
func New(ctx context.Context, cfg *config.Config, o Options) (*Watch, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	w := &Watch{config: cfg, options: o, index: map[string]int{}}
	first := 0
	for i, g := range cfg.Gauges {
		u, err := newUnit(g, first, maxAge(cfg, g))
		if err != nil {
			return nil, fmt.Errorf("gauge %s: %w", g.Sheet.Tag, err)
		}
		first += len(g.Signals)
		w.units = append(w.units, u)
		w.index[g.Sheet.Tag] = i
	}
	w.views = make([]dashboards.GaugeView, len(w.units))
	for i, u := range w.units {
		w.views[i] = dashboards.GaugeView{Sheet: &u.config.Sheet, MaxAge: u.maxAge}
	}
	if o.Store != nil {
		r, err := newRecorder(ctx, o.Store, w.units)
		switch {
		case errors.Is(err, store.ErrFull): // series cannot be made: nothing is recorded
			w.history(err)
		case err != nil:
			return nil, err
		default:
			w.recorder, w.writer = r, newWriter(o.Store, o.Batch)
		}
	}
	if o.StateDir != "" {
		w.keeper = newKeeper(o.StateDir, o.Log)
		if err := w.keeper.restore(w.units); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// maxAge is the longest age a level sample of the gauge may have.
func maxAge(cfg *config.Config, g config.Gauge) time.Duration {
	var longest time.Duration
	for _, s := range g.Signals {
		if !isLevel(s.Role) {
			continue
		}
		for _, src := range cfg.Sources {
			if src.Name == s.Source {
				longest = max(longest, src.MaxAge)
			}
		}
	}
	return longest
}

// Tags lists the tags of all signals in the order a snapshot must have them.
func Tags(cfg *config.Config) []collector.Tag {
	var tags []collector.Tag
	for _, g := range cfg.Gauges {
		for _, s := range g.Signals {
			tags = append(tags, collector.Tag(s.Tag))
		}
	}
	return tags
}

// Cycle takes one snapshot through everything. The samples must be in the
// order of Tags. A store that cannot record stops history, nothing else.
func (w *Watch) Cycle(ctx context.Context, s collector.Snapshot) {
	began := time.Now()
	for _, u := range w.units {
		u.take(s.Samples)
	}
	w.compare(ctx, s.Time)
	if len(w.unsaved) > 0 && w.recordsAgain() {
		_ = w.saveFindings(ctx) // said when it began
	}
	for _, u := range w.units {
		w.changes(ctx, s.Time, u)
	}
	if w.keeper != nil {
		w.keeper.keep(w.units)
	}
	w.show(s.Time, time.Since(began))
}

// compare evaluates every gauge, then records samples and levels in one
// durable step. Should an evaluation end the process, the samples are recorded
// all the same.
func (w *Watch) compare(ctx context.Context, at time.Time) {
	compared := false
	defer func() { w.record(ctx, at, compared) }()
	for _, u := range w.units {
		u.evaluate(at)
	}
	compared = true
}

// record stores the samples as they came and, if they were compared, what was
// computed from them; what belongs to one gauge stands together.
func (w *Watch) record(ctx context.Context, at time.Time, compared bool) {
	if w.recorder == nil {
		return
	}
	values := w.writer.values()
	for k, u := range w.units {
		values = w.recorder.rawValues(values, k, u)
		if compared {
			values = w.recorder.levelValues(values, k, u)
		}
	}
	w.history(w.writer.add(ctx, store.Scan{Time: at, ConfigVersion: w.options.Version, Values: values}))
}

// history notes whether the store records. Polling and findings go on either
// way.
func (w *Watch) history(err error) {
	text := ""
	switch {
	case errors.Is(err, store.ErrFull):
		text = "History has stopped: no space left. Polling, comparing and alerts go on."
	case err != nil:
		text = "History has stopped: " + err.Error() + ". Polling, comparing and alerts go on."
	}
	w.mu.Lock()
	was := w.fault
	w.fault = text
	w.mu.Unlock()
	switch {
	case text != "" && was == "":
		w.options.Log.Error("history has stopped", "error", err)
	case text == "" && was != "":
		w.options.Log.Info("history is recorded again")
	}
}

// recordsAgain reports whether the last scan was recorded.
func (w *Watch) recordsAgain() bool {
	w.mu.RLock()
	defer w.mu.RUnlock()
	return w.fault == ""
}

// changes records and tells what the last evaluation of a unit changed.
func (w *Watch) changes(ctx context.Context, at time.Time, u *unit) {
	for _, c := range changesOf(at, u) {
		if err := w.recordFinding(ctx, at, c.Finding); err != nil {
			w.options.Log.Error("finding is not recorded yet; it is kept in memory until it can be", "finding", c.Finding.ID, "error", err)
		}
		if w.options.OnChange != nil {
			w.options.OnChange(c)
		}
	}
}

// changesOf lists what the last evaluation of a unit changed.
func changesOf(at time.Time, u *unit) []Change {
	if !u.result.Changed {
		return nil
	}
	var all []Change
	for _, group := range []struct {
		what     string
		findings []cause.Finding
	}{{"opened", u.result.Opened}, {"upgraded", u.result.Upgraded}, {"revised", u.result.Revised}, {"closed", u.result.Closed}} {
		for _, f := range group.findings {
			all = append(all, Change{Time: at, What: group.what, Finding: f, Category: u.result.Category})
		}
	}
	return all
}

// show refreshes what the pages see.
func (w *Watch) show(at time.Time, took time.Duration) {
	wait := w.waits(at)
	w.mu.Lock()
	w.now, w.took, w.wait = at, took, wait
	w.scans++
	if w.options.Views {
		for i, u := range w.units {
			w.views[i] = u.view(at)
		}
	}
	w.mu.Unlock()
	if w.options.After != nil {
		w.options.After()
	}
	if w.options.Publish == nil {
		return
	}
	for _, u := range w.units {
		w.options.Publish(u.config.Sheet.Tag)
	}
}

// Close flushes history and saves the state of the detectors.
func (w *Watch) Close(ctx context.Context) error {
	var errs []error
	if w.writer != nil {
		errs = append(errs, w.writer.flush(ctx))
	}
	if w.keeper != nil {
		errs = append(errs, w.keeper.save(w.units))
	}
	errs = append(errs, w.saveFindings(ctx))
	return errors.Join(errs...)
}
