package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"path/filepath"
	"slices"
	"sync/atomic"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/collector/poll"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/config"
	"bridlewatch/dashboards"
)

func newServe() *cobra.Command {
	var file string
	c := &cobra.Command{
		Use:   "serve",
		Short: "Watch a plant",
		Long: `serve polls the configured instruments, compares them, records everything and
serves the pages until it is stopped. It reads only: no value is ever written
to a plant device.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := config.Load(config.LoadOptions{File: file, Flags: c.Flags()})
			if err != nil {
				return err
			}
			return serve(c.Context(), cfg, file, c.ErrOrStderr())
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file; conf.d/*.yaml beside it is read as well")
	// The configuration reads these flags by name; flags win over environment and file.
	c.Flags().String("listen", "", "address of the pages")
	c.Flags().String("data", "", "data directory")
	c.Flags().String("external-url", "", "how people reach the pages; begins every link in messages")
	c.Flags().String("base-path", "", "path below which a proxy serves the pages")
	c.Flags().String("log-level", "", "debug, info, warn or error")
	c.Flags().Bool("read-only", false, "take no records and no acknowledgements by page")
	return c
}

// levels maps the configuration's words to levels of the log.
var levels = map[string]slog.Level{"debug": slog.LevelDebug, "info": slog.LevelInfo, "warn": slog.LevelWarn, "error": slog.LevelError}

func serve(ctx context.Context, cfg *config.Config, file string, stderr io.Writer) error {
	log := slog.New(slog.NewJSONHandler(stderr, &slog.HandlerOptions{Level: levels[cfg.Service.LogLevel]}))
	slog.SetDefault(log) // the protocol libraries write to the standard logger
	for _, a := range cfg.Advice {
		log.Warn("configuration", "advice", a.String())
	}
	if cfg.Pair != nil {
		return takeTurns(ctx, cfg, file, log)
	}
	return serveHere(ctx, cfg, file, log, nil)
}

// serveHere is the service of this box. t is its turn where it shares the work
// with another box. What began on a full disk begins again once there is room,
// and so does what runs while the clock is set.
func serveHere(ctx context.Context, cfg *config.Config, file string, log *slog.Logger, t *turn) error {
	began := time.Now()
	var memory *embedded.DB
	var sets []poll.ClockStep // of the clock, by which the service began again
	for inVain := 0; ; inVain++ {
		again, left, err := serveOnce(ctx, cfg, log, serving{file: file, began: began, turn: t, memory: memory, inVain: inVain, sets: &sets})
		if memory = left; !again || err != nil || ctx.Err() != nil {
			return errors.Join(err, closeMemory(memory))
		}
	}
}

// serving is how a service is run.
type serving struct {
	file   string // of the configuration
	began  time.Time
	turn   *turn
	memory *embedded.DB // what was kept in memory before; nil: nothing
	inVain int          // times the disk was full again
	sets   *[]poll.ClockStep
}

// serveOnce serves from the sources to the pages, until ctx ends or it is to
// begin again: with what was kept in memory meanwhile.
func serveOnce(ctx context.Context, cfg *config.Config, log *slog.Logger, v serving) (again bool, memory *embedded.DB, err error) {
	f, err := openFeed(cfg, cfg.Store.Dir)
	if err != nil {
		return false, v.memory, err
	}
	defer func() { err = errors.Join(err, f.poller.Close()) }()
	f.poller.Ask(v.turn.holds)
	s, err := openStation(ctx, cfg, log, stationOptions{
		dir: cfg.Store.Dir, metrics: []prometheus.Collector{f.poller},
		onChange: func(c watch.Change) {
			log.Info("finding "+c.What, "gauge", c.Finding.Gauge, "tier", c.Finding.Tier, "suspect", c.Finding.Suspect, "sentence", c.Finding.Sentence)
		},
		health: f.health(cfg, absolute(v.file), v.began, slices.Clone(*v.sets)), turn: v.turn, memory: v.memory,
	})
	if err != nil {
		return false, nil, err
	}
	defer func() {
		err = errors.Join(err, s.close())
		again = s.shortage.room.Load() || s.clockSet.Load()
		if s.leavesMemory() {
			memory = s.store
		}
	}()
	if err := s.listen(cfg.Service.Listen, false); err != nil {
		return false, nil, err
	}
	log.Info("bridlewatch runs", "version", programVersion(), "gauges", len(cfg.Gauges), "pages", s.url())
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	go s.awaitRoom(ctx, v.inVain, stop)
	err = watchPlant(ctx, s, f, log)
	if s.clockSet.Load() {
		*v.sets = append(*v.sets, f.poller.ClockSteps()...)
	}
	return false, nil, err
}

// watchPlant runs poller and pages until ctx ends or one of them fails.
func watchPlant(ctx context.Context, s *station, f *feed, log *slog.Logger) error {
	ctx, stop := context.WithCancel(ctx)
	pages := make(chan error, 1)
	go func() {
		pages <- s.run(ctx)
		stop()
	}()
	tell(log, daemon.SdNotifyReady)
	var lastCycle atomic.Int64
	lastCycle.Store(time.Now().UnixNano())
	go watchdog(ctx, log, s.config.Service.ScanEvery, &lastCycle)
	answers := map[string]bool{}
	last := time.Now() // about when the state of the detectors was chosen
	err := f.poller.Run(ctx, func(snap collector.Snapshot) {
		if watch.ClockWasSet(last, snap.Time) {
			log.Warn("the clock of this box was set; the service begins again with what fits the new time", "before", last, "now", snap.Time)
			s.clockSet.Store(true)
			stop()
			return
		}
		last = snap.Time
		s.watch.Cycle(ctx, f.arrange(snap))
		logAnswers(log, f.poller.Stats(), answers)
		lastCycle.Store(time.Now().UnixNano())
	})
	tell(log, daemon.SdNotifyStopping)
	stop()
	if errors.Is(err, context.Canceled) {
		err = nil
	}
	return errors.Join(err, <-pages)
}

// logAnswers logs when a source stops or begins to answer. answers holds what
// was logged last.
func logAnswers(log *slog.Logger, stats []poll.Stats, answers map[string]bool) {
	for _, st := range stats {
		if st.Scans == 0 {
			continue
		}
		ok := st.LastError == nil
		if was, known := answers[st.Source]; known && was == ok {
			continue
		}
		answers[st.Source] = ok
		if ok {
			log.Info("source answers", "source", st.Source, "signals", st.Good+st.Bad, "bad", st.Bad)
		} else {
			log.Warn("source does not answer", "source", st.Source, "error", st.LastError)
		}
	}
}

// watchdog keeps the service manager content for as long as gauges are
// compared; when comparing has stopped it falls silent and the service is
// started again.
func watchdog(ctx context.Context, log *slog.Logger, scanEvery time.Duration, lastCycle *atomic.Int64) {
	patience, err := daemon.SdWatchdogEnabled(false)
	if err != nil || patience == 0 {
		return
	}
	tick := time.NewTicker(patience / 3)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if time.Since(time.Unix(0, lastCycle.Load())) < max(patience, 3*scanEvery) {
				tell(log, daemon.SdNotifyWatchdog)
			}
		}
	}
}

// tell tells the service manager, where there is one.
func tell(log *slog.Logger, state string) {
	if _, err := daemon.SdNotify(false, state); err != nil {
		log.Debug("service manager was not told", "state", state, "error", err)
	}
}

func absolute(file string) string {
	if full, err := filepath.Abs(file); err == nil {
		return full
	}
	return file
}

// health tells how the program and its sources are.
// Sets are those of the clock before the poller began.
func (f *feed) health(cfg *config.Config, file string, started time.Time, sets []poll.ClockStep) func(*dashboards.Health) {
	return func(h *dashboards.Health) {
		h.Version, h.Started, h.ConfigFile, h.ConfigLoaded = programVersion(), started, file, started
		h.Scan.Skipped = f.poller.SkippedSnapshots()
		h.Sources, h.Notices = f.sourceHealth(cfg), append(h.Notices, clockNotices(append(slices.Clone(sets), f.poller.ClockSteps()...))...)
	}
}

// recentStep is how long a step of the clock is worth a notice.
const recentStep = 24 * time.Hour

// clockNotices says when the clock of the box was set lately: times of samples
// around it are doubtful.
func clockNotices(steps []poll.ClockStep) []string {
	var out []string
	for _, s := range steps {
		if time.Since(s.At) < recentStep {
			out = append(out, fmt.Sprintf("The clock of this box jumped by %s at %s.", s.By.Round(time.Millisecond), s.At.Format(time.RFC3339)))
		}
	}
	return out
}
