package watch

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/cause"
)

// batchSize bounds how many scans a batching writer holds back, and
// batchTime for how long by the machine's clock.
const (
	batchSize = 256
	batchTime = 250 * time.Millisecond
)

// writer hands scans to the store, one by one or in groups.
type writer struct {
	store   store.Store
	batch   store.BatchAppender // nil: one by one
	waiting []store.Scan
	since   time.Time
	spare   []store.Value // only when one by one
}

func newWriter(s store.Store, group bool) *writer {
	w := &writer{store: s}
	if b, ok := s.(store.BatchAppender); ok && group {
		w.batch = b
	}
	return w
}

// values returns an empty slice to fill for the next scan.
func (w *writer) values() []store.Value {
	if w.batch != nil {
		return nil // held back: must not be shared
	}
	return w.spare[:0]
}

func (w *writer) add(ctx context.Context, scan store.Scan) error {
	if w.batch == nil {
		w.spare = scan.Values
		return w.store.Append(ctx, scan)
	}
	if len(w.waiting) == 0 {
		w.since = time.Now()
	}
	w.waiting = append(w.waiting, scan)
	if len(w.waiting) < batchSize && time.Since(w.since) < batchTime {
		return nil
	}
	return w.flush(ctx)
}

// flush records what was held back. What could not be recorded is given up,
// as it would be if it had come alone.
func (w *writer) flush(ctx context.Context) error {
	if len(w.waiting) == 0 {
		return nil
	}
	err := w.batch.AppendBatch(ctx, w.waiting)
	w.waiting = w.waiting[:0]
	return err
}

// FindingKind is the kind of the documents that hold findings: one document
// for each episode, a new version for each change.
const FindingKind = "finding"

func (w *Watch) recordFinding(ctx context.Context, at time.Time, f cause.Finding) error {
	if w.options.Store == nil {
		return nil
	}
	body, err := json.Marshal(f)
	if err != nil {
		return fmt.Errorf("encode finding %s: %w", f.ID, err)
	}
	_, err = w.options.Store.Put(ctx, store.Document{Kind: FindingKind, ID: f.ID, Gauge: f.Gauge, Time: at, Body: body})
	return err
}
