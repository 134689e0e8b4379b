// Package desk runs the alert book of a service: it folds what the comparison
// found and what people do, writes every entry into the journal before
// anybody hears of it, and hands messages to the routes.
//
// The journal is the truth. At the start the book is read from its newest copy
// and the entries after it, so that a restart neither forgets nor announces
// again.
package desk

import (
	"context"
	"hash/crc32"
	"log/slog"
	"sync"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare"
	"bridlewatch/compare/alert"
	"bridlewatch/compare/alert/drift"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/notify"
	"bridlewatch/dashboards/plant"
)

// Kinds of the documents.
const (
	AlertKind  = "alert"       // newest state of each alert
	EntryKind  = "alert-entry" // the journal, one document for each entry
	WindowKind = "quiet"       // newest state of each quiet window
	bookKind   = "alert-book"  // copy of the whole book, so that not the whole journal must be read
	driftKind  = "drift"       // what each finished day says about the drift of a gauge
)

// Kinds are all of them: together they are the alert book.
var Kinds = []string{AlertKind, EntryKind, WindowKind, bookKind, driftKind}

const (
	copyEvery   = 500              // entries between copies of the book
	settleAfter = 24 * time.Hour   // after a start, by the plant's clock, detectors have found again what is there
	tickEvery   = 10 * time.Second // by the plant's clock
	reviewEvery = time.Minute      // of the findings of a gauge
	mostUnsaved = 20_000
	driftSpan   = 100 * 24 * time.Hour // of days a drift rests on
	catchUpSpan = 5 * time.Minute      // of entries whose messages a kill may have lost
	testedEvery = time.Minute          // is asked who tests what
	isolated    = "chamber isolated"   // rules of the design
	underTest   = "test in progress"
)

// Options are what a desk is made of. Store and Now must be given.
type Options struct {
	Store   store.Store
	Outbox  *notify.Outbox // nil: nobody is told
	Origin  notify.Origin
	Windows []alert.Window // of the configuration
	Gauges  []Gauge
	Now     func() time.Time // of the plant
	// UnderTest says which gauges somebody is testing at now: their alerts are
	// suppressed by design. nil: nobody tells.
	UnderTest func(ctx context.Context, now time.Time) (map[string]bool, error)
	Log       *slog.Logger
}

// Gauge is what the desk knows of a gauge beforehand.
type Gauge struct {
	Tag, Service, Area string
	Drift              quantity.Length // allowed; 0: not watched
}

// Desk runs the book. It may be used by several goroutines.
type Desk struct {
	options Options
	gauges  map[string]*watched

	mu       sync.Mutex
	book     alert.Book
	findings map[string]cause.Finding // newest version of what made an alert, for messages
	copied   uint64
	told     []alert.Entry    // read at the start, until it is sure that they were told
	unsaved  []store.Document // what the store has not taken yet, oldest first
	ticked   time.Time
	tested   time.Time // when it was asked last who tests what
}

// watched is what is remembered of a gauge between two comparisons.
type watched struct {
	Gauge
	category string
	isolated bool
	first    time.Time // of the first comparison since the start
	reviewed time.Time
	settled  bool
	drift    drift.Gauge
	day      int64 // newest finished day of drift that was stored
}

var _ plant.Desk = (*Desk)(nil)

// Open reads the book and makes the windows of the configuration its own.
func Open(ctx context.Context, o Options) (*Desk, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	d := &Desk{options: o, gauges: map[string]*watched{}, findings: map[string]cause.Finding{}}
	for _, g := range o.Gauges {
		w := &watched{Gauge: g}
		w.drift.Shift = int64(crc32.ChecksumIEEE([]byte(g.Tag)) % 3600)
		d.gauges[g.Tag] = w
	}
	if err := d.read(ctx); err != nil {
		return nil, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	now := o.Now()
	if now.IsZero() {
		now = time.Now() // nothing was compared yet
	}
	d.catchUp(ctx)
	d.keep(ctx, d.book.Configure(now, o.Windows))
	return d, nil
}

// Changed folds a finding that was opened, became an alert or was closed.
func (d *Desk) Changed(ctx context.Context, at time.Time, what string, f cause.Finding, category string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	area := ""
	if w, ok := d.gauges[f.Gauge]; ok {
		area = w.Area
	}
	d.apply(ctx, at, alert.Change{What: what, Finding: f, Area: area, Category: category})
}

func (d *Desk) apply(ctx context.Context, at time.Time, c alert.Change) {
	d.findings[c.Finding.ID] = c.Finding
	d.keep(ctx, d.book.Apply(at, c))
	if c.What == "closed" {
		delete(d.findings, c.Finding.ID)
	}
}

// Compared looks at a gauge after a comparison: whether its chamber is
// isolated, whether its levels drift apart, and whether the book still fits
// what is found. It is cheap while nothing changes.
func (d *Desk) Compared(ctx context.Context, at time.Time, tag, category string, m *gauge.Measurement, open []cause.Finding) {
	d.mu.Lock()
	defer d.mu.Unlock()
	w, ok := d.gauges[tag]
	if !ok {
		return
	}
	w.category = category
	if w.first.IsZero() {
		w.first = at
	}
	if m.Isolated != w.isolated || w.first.Equal(at) {
		w.isolated = m.Isolated
		d.keep(ctx, d.book.Suppress(at, tag, isolated, m.Isolated))
	}
	d.drifts(ctx, at, w, m, open)
	d.review(ctx, at, w, open)
	if at.Sub(d.ticked) >= tickEvery || at.Before(d.ticked) {
		d.ticked = at
		_ = d.flush(ctx, len(d.unsaved)) // said when it began
		d.underTest(ctx, at)
		d.keep(ctx, d.book.Tick(at))
		d.standing(ctx, at)
	}
}

// underTest keeps quiet what a test makes the instruments say.
func (d *Desk) underTest(ctx context.Context, at time.Time) {
	if since := at.Sub(d.tested); d.options.UnderTest == nil || since >= 0 && since < testedEvery {
		return
	}
	d.tested = at
	under, err := d.options.UnderTest(ctx, at)
	if err != nil {
		d.options.Log.Warn("it is not known which gauges are being tested", "error", err)
		return
	}
	for _, g := range d.options.Gauges {
		d.keep(ctx, d.book.Suppress(at, g.Tag, underTest, under[g.Tag]))
	}
}

// drifts watches the gaps for slow drift.
func (d *Desk) drifts(ctx context.Context, at time.Time, w *watched, m *gauge.Measurement, open []cause.Finding) {
	for _, c := range w.drift.Add(at, w.Tag, m, w.Drift, misbehaves(open)) {
		category := w.category
		if category == string(compare.GoodCategory) {
			category = string(compare.MaintenanceDue) // within budget still
		}
		d.apply(ctx, at, alert.Change{What: c.What, Finding: c.Finding, Area: w.Area, Category: category, Limit: true})
	}
	if day := w.drift.Newest(); day != w.day {
		w.day = day
		d.put(ctx, store.Document{Kind: driftKind, ID: w.Tag, Gauge: w.Tag, Time: at}, w.drift.Keep())
	}
}

// misbehaves reports whether the comparison has seen one of the levels
// misbehave, which then explains their drift.
func misbehaves(open []cause.Finding) bool {
	for i := range open {
		f := &open[i]
		if f.Tier == cause.Alert && f.Suspect != cause.Point && f.Suspect != cause.Signal && f.Suspect != cause.Service && !alert.AboutGap(f.Symptom) {
			return true
		}
	}
	return false
}

// review takes over what the findings say by now and, for a day after a start,
// makes up for what was missed, as by a kill between the detectors' state and
// the journal.
func (d *Desk) review(ctx context.Context, at time.Time, w *watched, open []cause.Finding) {
	if since := at.Sub(w.reviewed); since >= 0 && since < reviewEvery {
		return
	}
	w.reviewed = at
	settling := !w.settled
	w.settled = at.Sub(w.first) >= settleAfter
	var alerts []alert.Change
	take := func(list []cause.Finding, limit bool) {
		for _, f := range list {
			if f.Tier == cause.Alert {
				alerts = append(alerts, alert.Change{Finding: f, Area: w.Area, Category: w.category, Limit: limit})
				d.findings[f.ID] = f
			}
		}
	}
	take(open, false)
	take(w.drift.Open(at, w.Tag), true)
	if !settling {
		return
	}
	d.keep(ctx, d.book.Reconcile(at, w.Tag, alerts, w.settled))
}
