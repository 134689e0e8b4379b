package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"bridlewatch/cmd/bridlewatch/verdicts"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/influx"
	"bridlewatch/config"
	"bridlewatch/dashboards"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/access/certificate"
	"bridlewatch/dashboards/desk"
	"bridlewatch/dashboards/notify"
)

// station is a service without its sources: store, watch, pages and messages.
// serve feeds it from a plant, rehearse from a simulated one.
type station struct {
	config *config.Config
	log    *slog.Logger
	store  *embedded.DB
	watch  *watch.Watch
	pages  *dashboards.Server
	outbox *notify.Outbox
	desk   *desk.Desk
	origin notify.Origin

	forward  *influx.Forwarder // nil: history stays on this box
	fleet    *fleet            // nil: there is no central store
	verdicts *verdicts.Server  // nil: no control system reads

	trials      *trialRunner // nil: not open yet
	access      *access.Access
	certificate *certificate.Keeper // nil: the pages are not encrypted
	dir         string
	rows        atomic.Int64 // of the import under way

	http     *http.Server
	listener net.Listener
	metrics  net.Listener // nil: metrics are on the first listener
	onChange func(watch.Change)
	turn     *turn // nil: this box stands alone
	shortage shortage
	clock    string // what a wrong clock did to the state of the detectors; "": nothing
	clockSet atomic.Bool
}

// stationOptions say how a station differs from that of a live service.
type stationOptions struct {
	dir       string // data directory
	batch     bool
	rehearsal string             // what is rehearsed; "" for a live service
	onChange  func(watch.Change) // may be nil
	health    func(*dashboards.Health)
	now       func() time.Time // the clock of the plant; nil: that of the machine
	metrics   []prometheus.Collector
	turn      *turn
	memory    *embedded.DB // what a station before kept in memory; nil: nothing
}

func openStation(ctx context.Context, cfg *config.Config, log *slog.Logger, o stationOptions) (s *station, err error) {
	s = &station{config: cfg, log: log, onChange: o.onChange, dir: o.dir, turn: o.turn}
	s.origin = notify.Origin{Site: cfg.Site.Name, Box: cfg.Site.Box, ExternalURL: cfg.Service.ExternalURL, Rehearsal: o.rehearsal != "", Zone: cfg.Site.TimeZone}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.close())
		}
	}()
	s.store, err = embedded.Open(ctx, embedded.Options{Dir: o.dir, Now: o.now, Logger: log, Retain: retention(cfg), SealAfter: cfg.Store.SealAfter,
		EvenFull: o.turn == nil && o.rehearsal == "", After: o.memory})
	if err != nil {
		return s, fmt.Errorf("open data directory %s: %w", o.dir, err)
	}
	if s.store.Cramped() {
		s.short("History has stopped; polling, comparing and alerts go on.")
	}
	if err = s.takeOver(ctx, o.memory); err != nil {
		return s, err
	}
	if err = o.turn.begin(ctx, s.store); err != nil {
		return s, err
	}
	version, err := recordConfiguration(ctx, s.store, cfg)
	if err = s.without("a note of the configuration", err); err != nil {
		return s, err
	}
	state := watch.StateDir(o.dir)
	if err = s.without("a state directory", os.MkdirAll(state, 0o700)); err != nil {
		return s, fmt.Errorf("make state directory: %w", err)
	}
	if o.rehearsal == "" {
		s.clock, err = watch.ChooseState(o.dir, time.Now(), log)
		if err = s.without("choosing the state of the detectors by the clock", err); err != nil {
			return s, err
		}
	}
	s.watch, err = watch.New(ctx, cfg, watch.Options{
		Store: s.store, StateDir: state, OnChange: s.changed, Publish: s.publish, After: s.scanned, Log: log,
		Health: func(h *dashboards.Health) { s.health(h, o) }, Version: version, Batch: o.batch, Views: true,
	})
	if err != nil {
		return s, err
	}
	if s.turn != nil {
		s.turn.watch = s.watch
	}
	if cfg.Influx != nil && o.rehearsal == "" {
		if s.forward, err = newForwarder(cfg, s.store, log, s.turn.holds, s.state); err != nil {
			return s, err
		}
		if s.fleet, err = openFleet(cfg.Influx); err != nil {
			return s, err
		}
	} else if err = s.without("forgetting the central store", s.store.RemoveCursor(ctx, influx.DefaultFollower)); err != nil { // or finished days would wait for it
		return s, err
	}
	if err = s.openDesk(ctx, o.now); err != nil {
		return s, err
	}
	if a := cfg.Service.VerdictListen; a != "" {
		if s.verdicts, err = verdicts.Listen(a, s.watch); err != nil {
			return s, err
		}
	}
	if err = s.openAccess(ctx, o); err != nil {
		return s, err
	}
	if err = s.openCertificate(); err != nil {
		return s, err
	}
	book, err := s.openBook(ctx, o)
	if err != nil {
		return s, err
	}
	s.trials = &trialRunner{config: cfg, db: s.store, log: log, works: book.Works, audit: s.access.Record}
	door, err := s.door(ctx)
	if err != nil {
		return s, err
	}
	s.pages, err = dashboards.New(dashboards.Options{
		Store: s.store, Plant: s.watch, Records: book, Alerts: s.desk, Access: s.access, Actor: s.actor(), Trust: trustOf(cfg, o.dir), ReadOnly: cfg.Service.ReadOnly, Location: cfg.Site.TimeZone, BasePath: cfg.Service.BasePath,
		Rehearsal: o.rehearsal != "", RehearsalText: o.rehearsal, Version: programVersion(), Metrics: o.metrics, Fleet: s.fleetView(), Imports: door, Trials: s.trials,
	})
	return s, err
}

// retention turns the configuration's ages into days of the store.
func retention(cfg *config.Config) embedded.Retention {
	return embedded.Retention{
		RawDays: keepDays(cfg.Store.KeepRaw), DerivedDays: keepDays(cfg.Store.KeepLevels), TensDays: keepDays(cfg.Store.KeepTenMinutes),
		SummaryDays: keepDays(cfg.Store.KeepSummaries), RawBytes: cfg.Store.MaxRawBytes, DerivedBytes: cfg.Store.MaxLevelBytes,
		SummaryBytes: cfg.Store.MaxSummaryBytes,
	}
}

// forEver is longer than any plant stands.
const forEver = 365 * 1000

// keepDays rounds up to whole days; nothing written means for ever.
func keepDays(d time.Duration) int {
	if d <= 0 {
		return forEver
	}
	return int((d + 24*time.Hour - 1) / (24 * time.Hour))
}

// health completes what the watch knows with what store and forwarder say.
func (s *station) health(h *dashboards.Health, o stationOptions) {
	if o.health != nil {
		o.health(h)
	}
	h.Store.Dir, h.Store.FreeBytes, h.Clock = o.dir, freeBytes(o.dir), boxClock()
	if s.certificate != nil {
		h.Encryption = &dashboards.Encryption{Fingerprint: s.certificate.Fingerprint(), Until: s.certificate.Until(), SelfMade: s.certificate.IsSelfMade()}
	}
	if s.clock != "" {
		h.Notices = append(h.Notices, s.clock)
	}
	s.shortage.tell(h, s.store.Cramped())
	for _, n := range s.store.Notices() {
		h.Notices = append(h.Notices, n.Text)
	}
	if st, err := s.store.Stats(context.Background()); err == nil {
		h.Store.Bytes, h.Store.Oldest = st.RawBytes+st.DerivedBytes+st.DatabaseBytes, st.Oldest
	} else {
		h.Store.Error = err.Error()
	}
	if s.forward != nil {
		st := s.forward.Status()
		h.Forward = &dashboards.ForwardHealth{
			To: s.config.Influx.URL + ", bucket " + s.config.Influx.Bucket, Behind: st.Lag, Since: st.Since, Waiting: st.Waiting, Trouble: st.Trouble,
		}
	}
}

// freeBytes is the room left on the disk of dir; -1 when it cannot be told.
func freeBytes(dir string) int64 {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(dir, &fs); err != nil {
		return -1
	}
	return int64(fs.Bavail) * fs.Bsize
}

// newForwarder forwards db while may allows it. Without state it forwards what
// is there and reports nothing.
func newForwarder(cfg *config.Config, db *embedded.DB, log *slog.Logger, may func() bool, state func() influx.State) (*influx.Forwarder, error) {
	c := cfg.Influx
	server, err := influxServer(c)
	if err != nil {
		return nil, err
	}
	return influx.NewForwarder(db, influx.ForwardOptions{
		Server: server, Origin: influx.Origin{Site: cfg.Site.Name, Box: cfg.Site.Box},
		Batch: c.Batch, Rate: c.CatchUp, Timeout: c.Timeout, Logger: log, State: state, Silent: state == nil, May: may,
	})
}

func influxServer(c *config.Influx) (influx.Server, error) {
	s := influx.Server{URL: c.URL, Org: c.Org, Bucket: c.Bucket, Token: c.Token.Reveal()}
	if c.CAFile == "" {
		return s, nil
	}
	var err error
	if s.Roots, err = certificate.Roots(c.CAFile); err != nil {
		return s, fmt.Errorf("influx.ca_file: %w", err)
	}
	return s, nil
}

// configurationKind is the kind of the documents that hold configurations: one
// for each effective configuration the box has run with.
const configurationKind = "configuration"

// recordConfiguration keeps the effective configuration beside the samples
// taken with it and returns its number.
func recordConfiguration(ctx context.Context, s store.Store, cfg *config.Config) (uint32, error) {
	known, err := s.Documents(ctx, store.Query{Kind: configurationKind, ID: cfg.Version, Latest: true})
	if err != nil {
		return 0, fmt.Errorf("look for the configuration in history: %w", err)
	}
	if len(known) > 0 {
		return uint32(known[0].Seq), nil
	}
	var text strings.Builder
	if err := config.Print(cfg, &text); err != nil {
		return 0, err
	}
	body, err := json.Marshal(map[string]string{"version": cfg.Version, "program": programVersion(), "text": text.String()})
	if err != nil {
		return 0, fmt.Errorf("encode configuration: %w", err)
	}
	seq, err := s.Put(ctx, store.Document{Kind: configurationKind, ID: cfg.Version, Time: time.Now(), Body: body})
	if err != nil {
		return 0, fmt.Errorf("record configuration: %w", err)
	}
	return uint32(seq), nil
}

// scanned tells who reads whole scans.
func (s *station) scanned() {
	if s.verdicts != nil {
		s.verdicts.Refresh()
	}
}

// The embedded store groups scans, which a rehearsal at speed needs.
var _ store.BatchAppender = (*embedded.DB)(nil)
