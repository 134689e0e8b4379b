package main

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store"
	"bridlewatch/compare/alert"
	"bridlewatch/compare/cause"
	"bridlewatch/config"
	"bridlewatch/dashboards/desk"
	"bridlewatch/dashboards/notify"
	"bridlewatch/dashboards/records"
)

// openDesk opens the alert book of a station. Nothing leaves the machine in a
// rehearsal: it has no routes.
func (s *station) openDesk(ctx context.Context, clock func() time.Time) (err error) {
	var settings []notify.Setting
	if !s.origin.Rehearsal {
		settings = routeSettings(s.config)
	}
	if s.outbox, err = notify.Open(ctx, s.store, settings, s.log); err != nil {
		return err
	}
	if s.turn != nil {
		s.outbox.Ask(s.turn.ready)
	}
	now := func() time.Time {
		if at := s.watch.Now(); !at.IsZero() || clock == nil {
			return at
		}
		return clock()
	}
	s.desk, err = desk.Open(ctx, desk.Options{
		Store: s.store, Outbox: s.outbox, Origin: s.origin, Windows: quietWindows(s.config), Gauges: deskGauges(s.config), Now: now, Log: s.log,
		UnderTest: s.underTest,
	})
	return err
}

// pruneDeliveries drops, once a day, what was delivered longer ago than it is
// kept. It begins when the alerts that stand are known.
func (s *station) pruneDeliveries(ctx context.Context) {
	keep := s.config.Store.KeepDeliveries
	if keep <= 0 {
		return
	}
	for wait := 10 * time.Minute; ; wait = 24 * time.Hour {
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
		before, err := s.store.Cutoff(ctx, keep)
		n := 0
		if err == nil && !before.IsZero() {
			n, err = s.outbox.Prune(ctx, before)
		}
		if err != nil {
			s.log.Error("old deliveries were not dropped", "error", err)
		} else if n > 0 {
			s.log.Info("deliveries past their retention dropped", "documents", n)
		}
	}
}

// testForgotten is the age of a guided test's last step after which it is taken
// as left lying: its gauge is quiet no longer.
const testForgotten = 4 * time.Hour

// underTest lists the gauges on which a guided test is under way.
func (s *station) underTest(ctx context.Context, now time.Time) (map[string]bool, error) {
	docs, err := s.store.Documents(ctx, store.Query{Kind: records.DraftKind, Latest: true, From: now.Add(-testForgotten)})
	if err != nil {
		return nil, fmt.Errorf("tests under way: %w", err)
	}
	under := map[string]bool{}
	for _, doc := range docs {
		var d records.Draft
		if err := json.Unmarshal(doc.Body, &d); err != nil {
			return nil, fmt.Errorf("test under way on %s: %w", doc.ID, err)
		}
		under[doc.ID] = d.Open
	}
	return under, nil
}

func routeSettings(cfg *config.Config) []notify.Setting {
	var out []notify.Setting
	for i := range cfg.Notify {
		r := &cfg.Notify[i]
		out = append(out, notify.Setting{
			Name: r.Name, Kind: r.Kind, URL: r.Address(), Key: []byte(r.Secret.Reveal()), User: r.User, Password: r.Password.Reveal(), Token: r.Token.Reveal(),
			From: r.From, To: r.To, Topic: r.Topic, CAFile: r.CAFile, CertFile: r.CertFile, KeyFile: r.KeyFile, Areas: r.Areas, Gauges: r.Gauges,
			Watches: r.Watches, Ended: r.Ended, RepeatEvery: r.RepeatEvery, Client: cfg.Site.Name + "/" + cfg.Site.Box,
		})
	}
	return out
}

func quietWindows(cfg *config.Config) []alert.Window {
	var out []alert.Window
	for _, q := range cfg.Quiet {
		out = append(out, alert.Window{
			ID: q.Name, Gauges: q.Gauges, Areas: q.Areas, Causes: q.Causes, From: q.From, Until: q.Until, Reason: q.Reason, By: "configuration",
		})
	}
	return out
}

func deskGauges(cfg *config.Config) []desk.Gauge {
	var out []desk.Gauge
	for i := range cfg.Gauges {
		sheet := &cfg.Gauges[i].Sheet
		out = append(out, desk.Gauge{Tag: sheet.Tag, Service: sheet.Service, Area: sheet.Area, Drift: sheet.Limits.Drift})
	}
	return out
}

// changed hands a finding to the desk: alerts into its book, findings that are
// only watched to the routes that want them.
func (s *station) changed(c watch.Change) {
	if s.onChange != nil {
		s.onChange(c)
	}
	s.turn.note()
	ctx := context.Background() // a finding is booked even while the service stops
	switch {
	case c.Finding.Tier == cause.Alert:
		s.desk.Changed(ctx, c.Time, c.What, c.Finding, string(c.Category))
	case c.What == "opened":
		s.desk.Watched(ctx, notify.Watched, c.Finding)
	}
}

// publish tells the desk and the pages that a gauge was compared.
func (s *station) publish(tag string) {
	if view, ok := s.watch.Gauge(tag); ok && view.Compared() {
		s.desk.Compared(context.Background(), view.Result.Time, tag, string(view.Result.Category), &view.Result.Measurement, view.Result.Findings)
	}
	if s.pages != nil {
		s.pages.Publish(tag)
	}
}
