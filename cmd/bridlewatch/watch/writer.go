package watch

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/plant"
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

// mostUnsaved bounds the findings that wait for a store that takes nothing.
const mostUnsaved = 20_000

// recordFinding stores a finding, behind those the store has not taken yet.
func (w *Watch) recordFinding(ctx context.Context, at time.Time, f cause.Finding) error {
	if w.options.Store == nil {
		return nil
	}
	body, err := json.Marshal(f)
	if err != nil {
		return fmt.Errorf("encode finding %s: %w", f.ID, err)
	}
	w.unsaved = append(w.unsaved, store.Document{Kind: plant.FindingKind, ID: f.ID, Gauge: f.Gauge, Time: at, Body: body})
	w.unsaved = w.unsaved[max(0, len(w.unsaved)-mostUnsaved):]
	return w.saveFindings(ctx)
}

// saveFindings stores what waits, until the store refuses.
func (w *Watch) saveFindings(ctx context.Context) error {
	for len(w.unsaved) > 0 {
		_, err := w.options.Store.Put(ctx, w.unsaved[0])
		if err != nil && !errors.Is(err, store.ErrInvalid) { // which no waiting mends
			return err
		}
		if w.unsaved = w.unsaved[1:]; err != nil {
			return err
		}
	}
	w.unsaved = nil
	return nil
}
