package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strconv"
	"sync"
	"time"

	"bridlewatch/collector/store"
)

// OutboxKind is the kind of the documents that hold deliveries.
const OutboxKind = "delivery"

// giveUp is the age at which a message no longer matters, unless it was tried
// fewer times than leastTries: the box may have been off, or its clock ahead.
const (
	giveUp     = 72 * time.Hour
	leastTries = 32
)

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
	store store.Store
	lanes []*lane
	log   *slog.Logger
	now   func() time.Time
	ready func(context.Context) error // asked before messages leave; nil: always

	mu       sync.Mutex
	pending  []Delivery
	known    map[string]bool
	told     map[string]time.Time // route/alert: when it was told last
	standing []Message
	unsaved  map[string]Delivery // newest form of what the store has not taken
	wake     chan struct{}
}

// mostUnsaved bounds what waits for a store that takes nothing.
const mostUnsaved = 20_000

// lane is one route with how it is.
type lane struct {
	Route
	setting Setting
	health  Health
	kept    time.Time // when a Keeper was given what stands
}

// Health is how a route is.
type Health struct {
	Name      string
	Kind      string
	To        string
	Waiting   int
	Delivered time.Time // last time
	Failed    time.Time // last time
	Error     string    // of the last failure, empty after a delivery
	Sent      uint64    // since the service started
	Failures  uint64
}

// Open makes the routes of the settings and reads what an earlier run left
// behind.
func Open(ctx context.Context, s store.Store, settings []Setting, log *slog.Logger) (*Outbox, error) {
	var lanes []*lane
	for _, set := range settings {
		r, err := New(set)
		if err != nil {
			return nil, err
		}
		lanes = append(lanes, &lane{Route: r, setting: set, health: Health{Name: set.Name, Kind: set.Kind, To: set.where()}})
	}
	return open(ctx, s, lanes, log)
}

// NewOutbox makes an outbox of routes that carry everything.
func NewOutbox(ctx context.Context, s store.Store, routes []Route, log *slog.Logger) (*Outbox, error) {
	var lanes []*lane
	for _, r := range routes {
		lanes = append(lanes, &lane{Route: r, setting: Setting{Name: r.Name(), Ended: true}, health: Health{Name: r.Name()}})
	}
	return open(ctx, s, lanes, log)
}

func open(ctx context.Context, s store.Store, lanes []*lane, log *slog.Logger) (*Outbox, error) {
	o := &Outbox{store: s, lanes: lanes, log: log, now: time.Now, known: map[string]bool{}, told: map[string]time.Time{}, unsaved: map[string]Delivery{}, wake: make(chan struct{}, 1)}
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
		o.remember(&d)
		if d.Done.IsZero() {
			o.pending = append(o.pending, d)
		}
	}
	return o, nil
}

// Ask makes Run ask before messages leave; while the answer is an error they
// wait. Run must not have begun.
func (o *Outbox) Ask(ready func(context.Context) error) { o.ready = ready }

// remember books what a stored delivery says about its route.
func (o *Outbox) remember(d *Delivery) {
	o.known[d.id()] = true
	if key := d.Route + "/" + d.Message.Alert; d.Queued.After(o.told[key]) {
		o.told[key] = d.Queued
	}
	l := o.lane(d.Route)
	switch {
	case l == nil || d.Done.IsZero():
	case d.Error == "" && d.Done.After(l.health.Delivered):
		l.health.Delivered = d.Done
	case d.Error != "" && d.Done.After(l.health.Failed):
		l.health.Failed, l.health.Error = d.Done, d.Error
	}
	if l != nil && l.health.Delivered.After(l.health.Failed) {
		l.health.Error = ""
	}
}

func (o *Outbox) lane(name string) *lane {
	if i := slices.IndexFunc(o.lanes, func(l *lane) bool { return l.Name() == name }); i >= 0 {
		return o.lanes[i]
	}
	return nil
}

// Post queues a message for every route that wants it. It returns after the
// message is stored, or could not be: it leaves all the same, and is stored when
// it can be. A message already known is not queued again.
func (o *Outbox) Post(ctx context.Context, m Message) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, l := range o.lanes {
		if !l.setting.wants(&m) {
			continue
		}
		if err := o.queue(ctx, l, m); err != nil {
			return err
		}
	}
	return nil
}

func (o *Outbox) queue(ctx context.Context, l *lane, m Message) error {
	d := Delivery{Message: m, Route: l.Name(), Queued: o.now(), Next: o.now()}
	if o.known[d.id()] {
		return nil
	}
	if err := o.keep(ctx, d); err != nil {
		if !errors.As(err, new(*unstoredError)) {
			return err
		}
		o.log.Error("a message leaves without being kept; a restart may repeat it", "route", d.Route, "gauge", m.Gauge, "error", err)
	}
	o.known[d.id()] = true
	o.told[l.Name()+"/"+m.Alert] = d.Queued
	o.pending = append(o.pending, d)
	select {
	case o.wake <- struct{}{}:
	default:
	}
	return nil
}

// unstoredError says that the store did not take a delivery.
type unstoredError struct{ err error }

func (e *unstoredError) Error() string { return e.err.Error() }
func (e *unstoredError) Unwrap() error { return e.err }

// keep stores a delivery as it is now, or books that it must be stored later.
func (o *Outbox) keep(ctx context.Context, d Delivery) error {
	body, err := json.Marshal(d)
	if err != nil {
		return fmt.Errorf("encode delivery %s: %w", d.id(), err)
	}
	_, err = o.store.Put(ctx, store.Document{Kind: OutboxKind, ID: d.id(), Gauge: d.Message.Gauge, Time: o.now(), Body: body})
	if err != nil {
		if _, waits := o.unsaved[d.id()]; waits || len(o.unsaved) < mostUnsaved {
			o.unsaved[d.id()] = d
		}
		return &unstoredError{fmt.Errorf("keep delivery %s: %w", d.id(), err)}
	}
	delete(o.unsaved, d.id())
	return nil
}

// keepLate stores what could not be stored before, until the store refuses again.
func (o *Outbox) keepLate(ctx context.Context) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	was := len(o.unsaved)
	for _, d := range o.unsaved {
		if err := o.keep(ctx, d); err != nil {
			return err
		}
	}
	if was > 0 {
		o.log.Info("messages are kept again", "messages", was)
	}
	return nil
}

// Close stores what could not be stored before. Run must have ended.
func (o *Outbox) Close(ctx context.Context) error { return o.keepLate(ctx) }

// Standing says which alerts stand now, untold ones and those kept quiet left
// out. Whoever has not acknowledged one is reminded of it where the route says
// so, and receivers that forget are given it again.
func (o *Outbox) Standing(ctx context.Context, alerts []Message, unacknowledged func(alert string) bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.standing = slices.Clone(alerts)
	for _, l := range o.lanes {
		if l.setting.RepeatEvery <= 0 {
			continue
		}
		for _, m := range alerts {
			m.Event = Reminder
			last, ever := o.told[l.Name()+"/"+m.Alert]
			if !ever || !unacknowledged(m.Alert) || within(o.now().Sub(last), l.setting.RepeatEvery) || !l.setting.wants(&m) {
				continue
			}
			m.ID = Identify(Origin{Site: m.Site, Box: m.Box}, m.Alert, "reminder", strconv.FormatInt(o.now().Unix(), 10))
			if err := o.queue(ctx, l, m); err != nil {
				o.log.Error("reminder was not queued", "route", l.Name(), "error", err)
			}
		}
	}
}

// within reports whether something was less than so long ago. What was in the
// future was noted by a clock that was ahead.
func within(ago, limit time.Duration) bool { return ago >= 0 && ago < limit }

// Pending returns what is on its way, for the pages.
func (o *Outbox) Pending() []Delivery {
	o.mu.Lock()
	defer o.mu.Unlock()
	return slices.Clone(o.pending)
}

// Health returns how each route is, in the order of the configuration.
func (o *Outbox) Health() []Health {
	o.mu.Lock()
	defer o.mu.Unlock()
	list := make([]Health, len(o.lanes))
	for i, l := range o.lanes {
		list[i] = l.health
		for _, d := range o.pending {
			if d.Route == l.Name() {
				list[i].Waiting++
			}
		}
	}
	return list
}

// Trial sends a message over one route at once and returns what came of it.
func (o *Outbox) Trial(ctx context.Context, route string, from Origin, by string) error {
	l := o.lane(route)
	if l == nil {
		return fmt.Errorf("there is no route %q in the configuration", route)
	}
	m := Message{
		Schema: Schema, Event: Trial, Time: o.now(), Site: from.Site, Box: from.Box, Rehearsal: from.Rehearsal, Link: from.ExternalURL,
		Sentence: "This is a trial of the route " + route + ", asked for by " + by + ". Nothing is wrong.",
		ID:       Identify(from, "trial", route, o.now().Format(time.RFC3339Nano)),
	}
	_, err := l.Send(ctx, m)
	o.note(l, err)
	return err
}
