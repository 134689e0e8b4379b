package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"

	"bridlewatch/collector/store"
	"bridlewatch/compare/alert"
	"bridlewatch/compare/alert/drift"
)

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
		d.told = append(d.told, e)
	}
	return d.readDrift(ctx)
}

// catchUp tells what the newest entries say must be told: a kill may have come
// between the journal and the outbox. What the outbox knows it does not take
// again.
func (d *Desk) catchUp(ctx context.Context) {
	for i := range d.told {
		e := &d.told[i]
		if d.told[len(d.told)-1].Time.Sub(e.Time) <= catchUpSpan {
			d.tell(ctx, e)
		}
	}
	d.told = nil
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
	for i := range entries {
		d.tell(ctx, &entries[i])
	}
	if d.book.N-d.copied >= copyEvery {
		d.copied = d.book.N
		d.put(ctx, store.Document{Kind: bookKind, ID: "book", Time: entries[len(entries)-1].Time}, d.book)
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
	if err := d.flush(ctx, was); err != nil && was == 0 {
		d.options.Log.Error("alert book is not written; it is kept in memory until it can be", "error", err)
	}
}

// flush writes what the store has not taken; was is how much of it is late.
func (d *Desk) flush(ctx context.Context, was int) error {
	for len(d.unsaved) > 0 {
		if _, err := d.options.Store.Put(ctx, d.unsaved[0]); err != nil {
			d.unsaved = d.unsaved[max(0, len(d.unsaved)-mostUnsaved):]
			return err
		}
		d.unsaved = d.unsaved[1:]
	}
	if was > 0 {
		d.options.Log.Info("alert book is written again", "documents", was)
	}
	d.unsaved = nil
	return nil
}

// Close writes what the store has not taken yet.
func (d *Desk) Close(ctx context.Context) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.flush(ctx, len(d.unsaved)); err != nil {
		return fmt.Errorf("%d entries of the alert book are lost: %w", len(d.unsaved), err)
	}
	return nil
}
