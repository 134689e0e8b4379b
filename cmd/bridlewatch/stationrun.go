package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"
)

// listen opens the listener. With anyPort a busy port is answered by a free
// one.
func (s *station) listen(address string, anyPort bool) error {
	if err := s.mayListen(address); err != nil {
		return err
	}
	l, err := net.Listen("tcp", address)
	if err != nil && anyPort {
		host, _, splitErr := net.SplitHostPort(address)
		if splitErr != nil {
			return fmt.Errorf("listen on %s: %w", address, err)
		}
		l, err = net.Listen("tcp", net.JoinHostPort(host, "0"))
	}
	if err != nil {
		return fmt.Errorf("listen on %s: %w; choose another address with --listen", address, err)
	}
	s.listener = l
	if a := s.config.Service.MetricsListen; a != "" {
		if s.metrics, err = net.Listen("tcp", a); err != nil {
			return fmt.Errorf("listen on %s for metrics: %w; choose another address as service.metrics_listen", a, err)
		}
	}
	s.http = &http.Server{Handler: s.pages.Handler(), ReadHeaderTimeout: 10 * time.Second, ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelWarn)}
	if s.certificate != nil {
		s.http.TLSConfig = s.certificate.Config()
	}
	return errors.Join(s.without("an inbox", s.openInbox()), s.without("the key of the command line", s.openConsole(s.dir)))
}

// url is where the pages are.
func (s *station) url() string {
	scheme := "http"
	if s.certificate != nil {
		scheme = "https"
	}
	return scheme + "://" + s.listener.Addr().String() + s.config.Service.BasePath
}

// run serves pages and sends messages until ctx ends or the pages fail.
func (s *station) run(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	failed := make(chan error, 2)
	go func() {
		if s.certificate != nil {
			failed <- s.http.ServeTLS(s.listener, "", "")
			return
		}
		failed <- s.http.Serve(s.listener)
	}()
	if s.metrics != nil {
		go func() { failed <- http.Serve(s.metrics, onlyMetrics(s.pages.Handler(), s.config.Service.BasePath)) }()
	}
	told := make(chan struct{})
	go func() {
		defer close(told)
		if s.turn != nil {
			s.turn.follow(ctx)
		}
	}()
	defer func() { <-told }()
	sent := make(chan struct{})
	go func() {
		defer close(sent)
		s.outbox.Run(ctx)
	}()
	defer func() { <-sent }()
	go s.pruneDeliveries(ctx)
	orders := make(chan struct{})
	go func() {
		defer close(orders)
		s.takeOrders(ctx)
	}()
	defer func() { <-orders }() // the store closes after run
	if s.forward != nil {
		go func() { _ = s.forward.Run(ctx) }() // ends with ctx; its troubles are in its status
	}
	select {
	case <-ctx.Done():
		return nil
	case err := <-failed:
		stop()
		return fmt.Errorf("pages: %w", err)
	}
}

// ignoreClosed passes every error on but that of closing twice.
func ignoreClosed(err error) error {
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

// onlyMetrics lets nothing through but the metrics, where they have a listener
// of their own.
func onlyMetrics(pages http.Handler, base string) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.URL.Path = strings.TrimSuffix(base, "/") + "/metrics"
		pages.ServeHTTP(w, r)
	}))
	return mux
}

// close shuts down in order: nobody may look any more, then nothing is
// recorded any more, then the store closes.
func (s *station) close() error {
	var errs []error
	if s.pages != nil {
		errs = append(errs, s.pages.Close())
	}
	if s.metrics != nil {
		errs = append(errs, ignoreClosed(s.metrics.Close()))
	}
	if s.http != nil {
		ctx, cancel := context.WithTimeout(context.Background(), 3*time.Second)
		defer cancel()
		if err := s.http.Shutdown(ctx); err != nil {
			errs = append(errs, s.http.Close())
		}
	}
	if s.verdicts != nil {
		errs = append(errs, s.verdicts.Close())
	}
	if s.listener != nil {
		errs = append(errs, s.closeInbox())
	}
	if s.trials != nil {
		s.trials.close()
	}
	if s.access != nil {
		errs = append(errs, s.access.Close())
	}
	if s.fleet != nil {
		s.fleet.close()
	}
	if s.watch != nil {
		errs = append(errs, s.without("the newest state of the detectors", s.watch.Close(context.Background())))
	}
	if s.desk != nil {
		errs = append(errs, s.without("the newest entries of the alert book", s.desk.Close(context.Background())))
	}
	if s.outbox != nil {
		errs = append(errs, s.without("the newest notes of what was sent", s.outbox.Close(context.Background())))
	}
	if s.store != nil && !s.leavesMemory() {
		s.turn.end()
		errs = append(errs, s.store.Close())
	}
	return errors.Join(errs...)
}
