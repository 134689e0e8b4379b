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
	"bridlewatch/config"
)

// handOverEvery is how often the state of the detectors is left for the other
// box.
const handOverEvery = 30 * time.Second

// takeTurns serves while this box has the lease and stands by while the other
// has it. A box that stands by opens nothing towards the plant.
func takeTurns(ctx context.Context, cfg *config.Config, file string, log *slog.Logger) error {
	holder := cfg.Pair.Holder
	if holder == "" {
		host, err := os.Hostname()
		if err != nil {
			return fmt.Errorf("name of this box for the lease: %w; write pair.holder", err)
		}
		holder = host
	}
	p, err := pair.Join(ctx, pair.Options{
		URL: cfg.Pair.URL, Credentials: cfg.Pair.Credentials, Bucket: cfg.Pair.Bucket,
		Name: cfg.Site.Box, Holder: holder, TTL: cfg.Pair.TTL, Log: log,
	})
	if err != nil {
		return withCode(exitUnreachable, err)
	}
	defer p.Close()
	for {
		held, release, err := p.Hold(ctx)
		if err != nil {
			if ctx.Err() != nil {
				return nil
			}
			return err
		}
		err = serveTurn(held, p, cfg, file, log)
		release()
		if err != nil || ctx.Err() != nil {
			return err
		}
	}
}

// serveTurn takes over what the other box left, serves while the lease is
// held, and leaves its own.
func serveTurn(held context.Context, p *pair.Pair, cfg *config.Config, file string, log *slog.Logger) error {
	state, err := p.TakeOver(held)
	if err != nil {
		return err
	}
	if state != nil {
		adopted, err := watch.Adopt(cfg.Store.Dir, state)
		if err != nil {
			log.Error("detector state of the other box was not taken over", "error", err)
		} else if adopted {
			log.Info("detector state of the other box was taken over")
		}
	}
	go func() {
		for tick := time.NewTicker(handOverEvery); ; {
			select {
			case <-held.Done():
				tick.Stop()
				return
			case <-tick.C:
				leave(held, p, cfg, log)
			}
		}
	}()
	err = serveHere(held, cfg, file, log)
	ctx, cancel := context.WithTimeout(context.WithoutCancel(held), 2*time.Second)
	defer cancel()
	leave(ctx, p, cfg, log)
	return err
}

// leave hands over the state that was saved last.
func leave(ctx context.Context, p *pair.Pair, cfg *config.Config, log *slog.Logger) {
	text, err := os.ReadFile(watch.StateFile(cfg.Store.Dir))
	if err == nil {
		err = p.HandOver(ctx, text)
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		log.Warn("detector state was not handed over", "error", err)
	}
}
