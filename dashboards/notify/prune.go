package notify

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"bridlewatch/collector/store"
)

// settled is how far behind the newest message a delivery is when no restart
// can ask for its message again.
const settled = 30 * 24 * time.Hour

// pruner is a store that can drop documents and still prove that none was
// changed.
type pruner interface {
	PruneDocuments(ctx context.Context, kind string, before time.Time, spare func(store.Document) bool) (int, error)
}

// Prune drops deliveries that ended before an instant. What is on its way
// stays, as do those of alerts that stand, those of the newest days and the
// last one of each route. It returns how many versions went.
func (o *Outbox) Prune(ctx context.Context, before time.Time) (int, error) {
	s, ok := o.store.(pruner)
	if !ok {
		return 0, nil
	}
	docs, err := o.store.Documents(ctx, store.Query{Kind: OutboxKind, Latest: true})
	if err != nil {
		return 0, fmt.Errorf("read outbox: %w", err)
	}
	var newest time.Time
	last := map[string]Delivery{} // by route
	for _, doc := range docs {
		var d Delivery
		if json.Unmarshal(doc.Body, &d) != nil {
			continue
		}
		if d.Message.Event != Reminder && d.Message.Time.After(newest) {
			newest = d.Message.Time
		}
		if d.Done.After(last[d.Route].Done) {
			last[d.Route] = d
		}
	}
	if limit := newest.Add(-settled); limit.Before(before) {
		before = limit
	}
	standing := o.standingAlerts()
	return s.PruneDocuments(ctx, OutboxKind, before, func(doc store.Document) bool {
		var d Delivery
		unreadable := json.Unmarshal(doc.Body, &d) != nil
		return unreadable || d.Done.IsZero() || standing[d.Message.Alert] || last[d.Route].id() == d.id()
	})
}

func (o *Outbox) standingAlerts() map[string]bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	alerts := map[string]bool{}
	for i := range o.standing {
		alerts[o.standing[i].Alert] = true
	}
	return alerts
}
