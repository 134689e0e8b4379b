package notify

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	"bridlewatch/collector/store"
)

// OutboxKind is the kind of the documents that hold deliveries.
const OutboxKind = "delivery"

// giveUp is the age at which a message no longer matters.
const giveUp = 72 * time.Hour

// Delivery is one message on its way over one route.
type Delivery struct {
	Message  Message   `json:"message"`
	Route    string    `json:"route"`
	Queued   time.Time `json:"queued"`
	Attempts int       `json:"attempts"`
	Next     time.Time `json:"next"`           // when to try again
	Done     time.Time `json:"done,omitzero"`  // delivered or given up
	Error    string    `json:"error,omitzero"` // of the last try
}

// id names the delivery in the store.
func (d Delivery) id() string { return d.Route + "/" + d.Message.ID }

// Outbox sends messages over all routes and remembers what is on its way.
type Outbox struct {
	store  store.Store
	routes []Route
	log    *slog.Logger
	now    func() time.Time

	mu      sync.Mutex
	pending []Delivery
	known   map[string]bool
	wake    chan struct{}
}

// NewOutbox reads what an earlier run left behind.
func NewOutbox(ctx context.Context, s store.Store, routes []Route, log *slog.Logger) (*Outbox, error) {
	o := &Outbox{store: s, routes: routes, log: log, now: time.Now, known: map[string]bool{}, wake: make(chan struct{}, 1)}
	docs, err := s.Documents(ctx, store.Query{Kind: OutboxKind, Latest: true})
	if err != nil {
		return nil, fmt.Errorf("read outbox: %w", err)
	}
	for _, doc := range docs {
		var d Delivery
		if err := json.Unmarshal(doc.Body, &d); err != nil {
			log.Error("delivery cannot be read and is left out", "delivery", doc.ID, "error", err)
			continue
		}
		o.known[d.id()] = true
		if d.Done.IsZero() {
			o.pending = append(o.pending, d)
		}
	}
	return o, nil
}

// Post queues a message for every route. It returns after the message is
// stored; a message already known is not queued again.
func (o *Outbox) Post(ctx context.Context, m Message) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, r := range o.routes {
		d := Delivery{Message: m, Route: r.Name(), Queued: o.now(), Next: o.now()}
		if o.known[d.id()] {
			continue
		}
		if err := o.keep(ctx, d); err != nil {
			return err
		}
		o.known[d.id()] = true
		o.pending = append(o.pending, d)
	}
	select {
	case o.wake <- struct{}{}:
	default:
	}
	return nil
}

func (o *Outbox) keep(ctx context.Context, d Delivery) error {
	body, err := json.Marshal(d)
	if err != nil {
		return fmt.Errorf("encode delivery %s: %w", d.id(), err)
	}
	_, err = o.store.Put(ctx, store.Document{Kind: OutboxKind, ID: d.id(), Gauge: d.Message.Gauge, Time: o.now(), Body: body})
	if err != nil {
		return fmt.Errorf("keep delivery %s: %w", d.id(), err)
	}
	return nil
}

// Run sends until ctx ends.
func (o *Outbox) Run(ctx context.Context) {
	for {
		wait := o.round(ctx)
		select {
		case <-ctx.Done():
			return
		case <-o.wake:
		case <-time.After(wait):
		}
	}
}

// round tries what is due and returns the time until the next is.
func (o *Outbox) round(ctx context.Context) time.Duration {
	wait := time.Minute
	for _, d := range o.due() {
		o.try(ctx, d)
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, d := range o.pending {
		wait = min(wait, max(d.Next.Sub(o.now()), 10*time.Millisecond))
	}
	return wait
}

func (o *Outbox) due() []Delivery {
	o.mu.Lock()
	defer o.mu.Unlock()
	var due []Delivery
	for _, d := range o.pending {
		if !d.Next.After(o.now()) {
			due = append(due, d)
		}
	}
	return due
}

func (o *Outbox) try(ctx context.Context, d Delivery) {
	i := slices.IndexFunc(o.routes, func(r Route) bool { return r.Name() == d.Route })
	again, err := false, fmt.Errorf("route %q is no longer configured", d.Route)
	if i >= 0 {
		again, err = o.routes[i].Send(ctx, d.Message)
	}
	d.Attempts++
	switch {
	case err == nil:
		d.Done, d.Error = o.now(), ""
	case again && o.now().Sub(d.Queued) < giveUp:
		d.Error, d.Next = err.Error(), o.now().Add(pause(d.Attempts))
		o.log.Warn("alert was not delivered, will try again", "route", d.Route, "gauge", d.Message.Gauge, "attempt", d.Attempts, "error", err)
	default:
		d.Error, d.Done = err.Error(), o.now()
		o.log.Error("alert was refused and is given up", "route", d.Route, "gauge", d.Message.Gauge, "error", err)
	}
	o.settle(ctx, d)
}

// pause grows from a second to ten minutes.
func pause(attempts int) time.Duration {
	return min(time.Second<<min(attempts-1, 20), 10*time.Minute)
}

func (o *Outbox) settle(ctx context.Context, d Delivery) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if err := o.keep(ctx, d); err != nil {
		o.log.Error("outbox", "error", err)
	}
	i := slices.IndexFunc(o.pending, func(p Delivery) bool { return p.id() == d.id() })
	switch {
	case i < 0:
	case d.Done.IsZero():
		o.pending[i] = d
	default:
		o.pending = slices.Delete(o.pending, i, i+1)
	}
}

// Pending returns what is on its way, for the pages.
func (o *Outbox) Pending() []Delivery {
	o.mu.Lock()
	defer o.mu.Unlock()
	return slices.Clone(o.pending)
}
