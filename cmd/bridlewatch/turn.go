package main

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"slices"
	"sync"
	"time"

	"bridlewatch/cmd/bridlewatch/pair"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store"
	"bridlewatch/config"
	"bridlewatch/dashboards/desk"
	"bridlewatch/dashboards/notify"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
)

// Documents two boxes of a pair tell each other. Configurations, imports and
// accounts are of one box.
var (
	onceKinds   = []string{records.Kind}
	sharedKinds = append([]string{plant.FindingKind, records.DraftKind, notify.OutboxKind}, slices.Concat(onceKinds, desk.Kinds)...)
)

// How often a turn hands over: documents and what changed with them, and the
// state of the detectors in any case.
const (
	tellEvery     = 200 * time.Millisecond
	handOverEvery = 30 * time.Second
)

// turn is the time in which a box of a pair serves. A nil turn is that of a box
// that stands alone.
type turn struct {
	pair    *pair.Pair
	cfg     *config.Config
	log     *slog.Logger
	changed chan struct{} // a finding has changed

	mu      sync.Mutex // one hands over at a time
	journal *pair.Journal
	watch   *watch.Watch // whose state is handed over; set before follow
}

// holds reports whether this box may reach out at this moment.
func (t *turn) holds() bool { return t == nil || t.pair.Holds() }

// serve takes over what the other box left, serves while the lease is held,
// and leaves its own.
func (t *turn) serve(held context.Context, file string) error {
	state, others, err := t.pair.TakeOver(held)
	if err != nil {
		return err
	}
	if state != nil {
		adopted, err := watch.Adopt(t.cfg.Store.Dir, state, others)
		if err != nil {
			t.log.Error("detector state of the other box was not taken over", "error", err)
		} else if adopted {
			t.log.Info("detector state of the other box was taken over")
		}
	}
	err = serveHere(held, t.cfg, file, t.log, t)
	if t.holds() { // a box that was overtaken has nothing to leave
		ctx, cancel := context.WithTimeout(context.WithoutCancel(held), 2*time.Second)
		defer cancel()
		t.leave(ctx)
	}
	return err
}

// begin brings the documents of this box up to date once its store is open.
func (t *turn) begin(ctx context.Context, s store.Store) (err error) {
	if t == nil {
		return nil
	}
	if t.journal, err = openJournal(t.pair, s, t.cfg); err != nil {
		return err
	}
	_, err = exchangeDocuments(ctx, t.journal)
	return err
}

// note says that a finding has changed.
func (t *turn) note() {
	if t == nil {
		return
	}
	select {
	case t.changed <- struct{}{}:
	default:
	}
}

// follow hands over until ctx ends: documents as they come, the state of the
// detectors before those that rest on it.
func (t *turn) follow(ctx context.Context) {
	tick := time.NewTicker(tellEvery)
	defer tick.Stop()
	for last := time.Now(); ; {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		due := time.Since(last) >= handOverEvery
		switch err := t.tell(ctx, due); {
		case err == nil && due:
			last = time.Now()
		case err != nil && ctx.Err() == nil:
			t.log.Debug("the other box was not told", "error", err)
		}
	}
}

// tell hands over what there is.
func (t *turn) tell(ctx context.Context, state bool) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	select {
	case <-t.changed:
		state = true
	default:
	}
	if !state {
		return t.journal.Tell(ctx)
	}
	err := t.watch.SaveState()
	if err == nil {
		err = t.handOver(ctx)
	}
	if err != nil {
		t.note()
		return err
	}
	return t.journal.Tell(ctx)
}

// errNotOurTurn keeps back what only the box that has the lease may send.
var errNotOurTurn = errors.New("this box does not have the lease")

// ready is asked before messages leave: the other box must know of them first,
// or it would send them again after a take-over.
func (t *turn) ready(ctx context.Context) error {
	if !t.holds() {
		return errNotOurTurn
	}
	if err := t.tell(ctx, false); err != nil {
		return err
	}
	if !t.holds() {
		return errNotOurTurn
	}
	return nil
}

// end tells the other box the last documents before the store closes.
func (t *turn) end() {
	if t == nil || t.journal == nil || !t.holds() {
		return
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	if err := t.journal.Tell(ctx); err != nil {
		t.log.Warn("the last documents were not handed over; they are when this box stands by", "error", err)
	}
}

// leave hands over the state of a turn that has ended.
func (t *turn) leave(ctx context.Context) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if err := t.handOver(ctx); err != nil {
		t.log.Warn("detector state was not handed over", "error", err)
	}
}

// handOver leaves the state that was saved last.
func (t *turn) handOver(ctx context.Context) error {
	text, err := os.ReadFile(watch.StateFile(t.cfg.Store.Dir))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return t.pair.HandOver(ctx, text)
}
