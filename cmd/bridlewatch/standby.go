package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"time"

	"bridlewatch/cmd/bridlewatch/pair"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/config"
)

// takeTurns serves while this box has the lease and stands by while the other
// has it. A box that stands by opens nothing towards the plant.
func takeTurns(ctx context.Context, cfg *config.Config, file string, log *slog.Logger) error {
	p, err := joinPair(ctx, cfg, log)
	if err != nil {
		return err
	}
	defer p.Close()
	for {
		waiting, stop := context.WithCancel(ctx)
		done := make(chan struct{})
		go func() {
			defer close(done)
			standBy(waiting, p, cfg, log)
		}()
		held, release, err := p.Hold(ctx)
		stop()
		<-done // it has the store open
		if err != nil {
			if ctx.Err() != nil {
				return nil
			}
			return err
		}
		t := &turn{pair: p, cfg: cfg, log: log, changed: make(chan struct{}, 1)}
		err = t.serve(held, file)
		release()
		if err != nil || ctx.Err() != nil {
			return err
		}
	}
}

func joinPair(ctx context.Context, cfg *config.Config, log *slog.Logger) (*pair.Pair, error) {
	holder := cfg.Pair.Holder
	if holder == "" {
		host, err := os.Hostname()
		if err != nil {
			return nil, fmt.Errorf("name of this box for the lease: %w; write pair.holder", err)
		}
		holder = host
	}
	p, err := pair.Join(ctx, pair.Options{
		URL: cfg.Pair.URL, Credentials: cfg.Pair.Credentials, Bucket: cfg.Pair.Bucket,
		Name: cfg.Site.Box, Holder: holder, TTL: cfg.Pair.TTL, Log: log,
	})
	if err != nil {
		return nil, withCode(exitUnreachable, err)
	}
	return p, nil
}

// Waits of a box that stands by: until it begins, so that the box that gets
// the lease at once opens its store once, and between looks at the journal.
const (
	standByAfter = time.Second
	listenEvery  = time.Second
)

// standBy sends to the central store what this box recorded in its own turns
// and could not send then, and stores what the other box tells, until ctx ends.
func standBy(ctx context.Context, p *pair.Pair, cfg *config.Config, log *slog.Logger) {
	for wait := standByAfter; ; wait = time.Minute {
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
		if err := catchUp(ctx, p, cfg, log); err != nil && ctx.Err() == nil {
			log.Warn("standing by without the store", "error", err)
		}
	}
}

func catchUp(ctx context.Context, p *pair.Pair, cfg *config.Config, log *slog.Logger) (err error) {
	db, err := embedded.Open(ctx, embedded.Options{Dir: cfg.Store.Dir, Logger: log, Retain: retention(cfg), SealAfter: cfg.Store.SealAfter})
	if err != nil {
		return fmt.Errorf("open data directory %s: %w", cfg.Store.Dir, err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	journal, err := openJournal(p, db, cfg)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	sent := make(chan struct{})
	defer func() {
		stop()
		<-sent
	}()
	go func() {
		defer close(sent)
		if cfg.Influx == nil {
			return
		}
		f, err := newForwarder(cfg, db, log, nil, nil)
		if err != nil {
			log.Error("what this box has recorded is not sent", "error", err)
			return
		}
		_ = f.Run(ctx) // ends with ctx; its troubles are logged
	}()
	for said := ""; ; {
		n, err := exchangeDocuments(ctx, journal)
		switch {
		case err != nil && ctx.Err() == nil && err.Error() != said:
			said = err.Error()
			log.Warn("nothing is heard of the other box", "error", err)
		case err == nil:
			said = ""
		}
		if n > 0 {
			log.Info("documents of the other box stored", "documents", n)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(listenEvery):
		}
	}
}

// exchangeDocuments tells what is ours, then stores what is the other's.
func exchangeDocuments(ctx context.Context, j *pair.Journal) (heard int, err error) {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	if err := j.Tell(ctx); err != nil {
		return 0, err
	}
	return j.Hear(ctx)
}

func openJournal(p *pair.Pair, s store.Store, cfg *config.Config) (*pair.Journal, error) {
	dir := watch.StateDir(cfg.Store.Dir)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make state directory: %w", err)
	}
	return p.OpenJournal(pair.JournalOptions{Store: s, Dir: dir, Kinds: sharedKinds, Once: onceKinds})
}
