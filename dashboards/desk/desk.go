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
	"encoding/json"
	"fmt"
	"hash/crc32"
	"log/slog"
	"strconv"
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

const (
	copyEvery   = 500              // entries between copies of the book
	settleAfter = 24 * time.Hour   // after a start, by the plant's clock, detectors have found again what is there
	tickEvery   = 10 * time.Second // by the plant's clock
	reviewEvery = time.Minute      // of the findings of a gauge
	mostUnsaved = 20_000
	driftSpan   = 100 * 24 * time.Hour // of days a drift rests on
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
	d.keep(ctx, d.book.Configure(now, o.Windows))
	return d, nil
}

// read brings the book to the end of the journal.
func (d *Desk) read(ctx context.Context) error {
	copies, err := d.options.Store.Documents(ctx, store.Query{Kind: bookKind, Latest: true})
	if err != nil {
		return fmt.Errorf("read alert book: %w", err)
	}
	after := int64(0)
	for _, doc := range copies {
		if err := json.Unmarshal(doc.Body, &d.book); err != nil {
			return fmt.Errorf("alert book cannot be read: %w", err)
		}
		after, d.copied = doc.Seq, d.book.N
	}
	docs, err := d.options.Store.Documents(ctx, store.Query{Kind: EntryKind, After: after})
	if err != nil {
		return fmt.Errorf("read alert journal: %w", err)
	}
	for _, doc := range docs {
		e, err := entryOf(doc)
		if err != nil {
			return err
		}
		d.book.Fold(e)
	}
	return d.readDrift(ctx)
}

func entryOf(doc store.Document) (e alert.Entry, err error) {
	if err := json.Unmarshal(doc.Body, &e); err != nil {
		return e, fmt.Errorf("alert journal: entry %s cannot be read: %w", doc.ID, err)
	}
	return e, nil
}

func (d *Desk) readDrift(ctx context.Context) error {
	newest, err := d.options.Store.Documents(ctx, store.Query{Kind: driftKind, Newest: true, Limit: 1})
	if err != nil || len(newest) == 0 {
		return err
	}
	docs, err := d.options.Store.Documents(ctx, store.Query{Kind: driftKind, From: newest[0].Time.Add(-driftSpan)})
	if err != nil {
		return fmt.Errorf("read drift: %w", err)
	}
	for _, doc := range docs {
		w, ok := d.gauges[doc.ID]
		if !ok {
			continue
		}
		var k drift.Kept
		if err := json.Unmarshal(doc.Body, &k); err != nil {
			return fmt.Errorf("drift of %s cannot be read: %w", doc.ID, err)
		}
		w.drift.Restore(k)
		w.day = w.drift.Newest()
	}
	return nil
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

// keep writes entries into the journal, then the states they changed, then
// tells. The book goes on while the store cannot write, since people must be
// told all the same.
func (d *Desk) keep(ctx context.Context, entries []alert.Entry) {
	alerts, windows := map[string]bool{}, map[string]bool{}
	for _, e := range entries {
		d.put(ctx, store.Document{Kind: EntryKind, ID: strconv.FormatUint(e.N, 10), Gauge: e.Gauge, Time: e.Time}, e)
		if e.Alert != "" {
			alerts[e.Alert] = true
		}
		if e.Window != nil {
			windows[e.Window.ID] = true
		}
	}
	for id := range alerts {
		if a, ok := d.book.Alerts[id]; ok {
			d.put(ctx, store.Document{Kind: AlertKind, ID: id, Gauge: a.Gauge, Time: entries[len(entries)-1].Time}, a)
		}
	}
	for id := range windows {
		if w, ok := d.book.Windows[id]; ok {
			d.put(ctx, store.Document{Kind: WindowKind, ID: id, Time: entries[len(entries)-1].Time}, w)
		}
	}
	if d.book.N-d.copied >= copyEvery {
		d.copied = d.book.N
		d.put(ctx, store.Document{Kind: bookKind, ID: "book", Time: entries[len(entries)-1].Time}, d.book)
	}
	for i := range entries {
		d.tell(ctx, &entries[i])
	}
}

// put stores a document, or keeps it until the store takes it again: the
// journal must have no holes.
func (d *Desk) put(ctx context.Context, doc store.Document, body any) {
	text, err := json.Marshal(body)
	if err != nil {
		d.options.Log.Error("alert book cannot be encoded", "kind", doc.Kind, "id", doc.ID, "error", err)
		return
	}
	doc.Body = text
	was := len(d.unsaved)
	d.unsaved = append(d.unsaved, doc)
	for len(d.unsaved) > 0 {
		if _, err := d.options.Store.Put(ctx, d.unsaved[0]); err != nil {
			d.unsaved = d.unsaved[max(0, len(d.unsaved)-mostUnsaved):]
			if was == 0 {
				d.options.Log.Error("alert book is not written; it is kept in memory until it can be", "error", err)
			}
			return
		}
		d.unsaved = d.unsaved[1:]
	}
	if was > 0 {
		d.options.Log.Info("alert book is written again", "documents", was)
	}
	d.unsaved = nil
}
