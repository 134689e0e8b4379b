package main

import (
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	attempts "bridlewatch/cmd/bridlewatch/trial"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
	"bridlewatch/dashboards/trials"
)

// kept fills the history of a station with what a sound gauge shows over a span, in
// minutes, as the service would have kept it.
func kept(t *testing.T, s *station, begin time.Time, span time.Duration) {
	t.Helper()
	g := &s.config.Gauges[0]
	unit, err := scenario.New(&g.Sheet, scenario.Options{Seed: 7, Start: begin, Process: scenario.BatchProcess(), Service: scenario.Benign()})
	if err != nil {
		t.Fatal(err)
	}
	past, err := watch.New(t.Context(), s.config, watch.Options{Store: s.store, Batch: true})
	if err != nil {
		t.Fatal(err)
	}
	for at := begin.Add(time.Minute); !at.After(begin.Add(span)); at = at.Add(time.Minute) {
		shot, err := unit.Step(at)
		if err != nil {
			t.Fatal(err)
		}
		snap := collector.Snapshot{Time: at, Samples: make([]collector.Sample, len(g.Signals))}
		for i := range snap.Samples {
			sig := &g.Signals[i]
			r := watch.ReadingOf(&shot, sig)
			x := collector.Sample{Tag: collector.Tag(sig.Tag), Time: at, SourceTime: at, Quality: r.Quality, Reason: r.Reason}
			if x.Value, err = sig.Spec.Inverse(r.Value); err != nil {
				x.Quality, x.Reason = quantity.Bad, quantity.OutOfRange
			}
			snap.Samples[i] = x
		}
		past.Cycle(t.Context(), snap)
	}
	if err := past.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
}

// oneGauge is a configuration with log-in that watches one gauge of the rehearsal.
func oneGauge(t *testing.T) *config.Config {
	t.Helper()
	cfg := plantWithLogin(t)
	cfg.Gauges = slices.DeleteFunc(cfg.Gauges, func(g config.Gauge) bool { return g.Sheet.Tag != "LG-104" })
	return cfg
}

// trialBegin is when the history of these tests begins.
var trialBegin = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

func orderForm(more ...string) url.Values {
	f := url.Values{"from": {"2026-03-02"}, "to": {"2026-03-07"}, "times": {"1"}, "before": {"2"}, "watch": {"2"}, "fault": {"float-stuck"}}
	for i := 0; i < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// TestTrialByPage orders trials as an engineer without a shell would: they run beside
// the service on the history it kept, one order at a time, and say what the command
// says.
func TestTrialByPage(t *testing.T) {
	dir := t.TempDir()
	s := startStation(t, oneGauge(t), dir)
	kept(t, s, trialBegin, 5*24*time.Hour)
	u, reader := logIn(t, s, dir, "engineer"), logIn(t, s, dir, "viewer")
	address := s.url() + "/gauge/LG-104/trial"

	if code, page := reader.read(reader.client.PostForm(address, orderForm())); code != 403 {
		t.Errorf("a viewer orders trials: %d %s", code, page)
	}
	if _, page := reader.read(reader.client.Get(address)); !strings.Contains(page, "an engineer orders them") {
		t.Error("a viewer is not told who orders trials")
	}
	if code, page := u.read(u.client.PostForm(address, orderForm("fault", "", "times", "10"))); code != 422 || !strings.Contains(page, "at most 120 are made here") {
		t.Errorf("hundreds of trials: %d", code)
	}
	if code, page := u.read(u.client.PostForm(address, orderForm())); code != 200 || !strings.Contains(page, "Asked for: float-stuck, at one time by chance") {
		t.Fatalf("ordering: %d %s", code, page)
	}
	page := ""
	for end := time.Now().Add(60 * time.Second); !strings.Contains(page, "What came of it"); time.Sleep(50 * time.Millisecond) {
		if _, page = u.read(u.client.Get(address)); strings.Contains(page, "No report") || time.Now().After(end) {
			t.Fatalf("no report: %s", page)
		}
	}
	run, _ := s.trials.Newest("LG-104")
	if r := run.Report; run.By != "engineer" || len(r.Rows) != 1 || r.Rows[0].Found != 1 || r.Rows[0].Right != 1 || r.Snapshots < 5*24*60-60 || run.Share != 1 {
		t.Errorf("%+v: %+v", run, r)
	}
	var text strings.Builder
	if err := run.Report.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	for _, said := range run.Report.Sentences {
		if !strings.Contains(page, said) || !strings.Contains(text.String(), said) {
			t.Errorf("page and command do not both say %q", said)
		}
	}
	trail, err := managed(t, newAudit, "", "list", "--data", dir)
	if err != nil || !strings.Contains(trail, "began trials on the history of LG-104") {
		t.Errorf("the audit log lacks the order: %v %s", err, trail)
	}
}

// TestTrialIsCancelled: an order that would take long ends at once, another is
// refused meanwhile, and a station that closes waits for no trial.
func TestTrialIsCancelled(t *testing.T) {
	dir := t.TempDir()
	cfg := oneGauge(t)
	cfg.Service.OpenAccess = true // whoever is at this machine is an engineer
	s := startStation(t, cfg, dir)
	kept(t, s, trialBegin, 6*24*time.Hour)
	u := &uploader{t, s, &http.Client{}}
	address := s.url() + "/gauge/LG-104/trial"
	long := orderForm("fault", "", "times", "1", "to", "2026-03-08")
	if code, page := u.read(u.client.PostForm(address, long)); code != 200 || !strings.Contains(page, "Under way") {
		t.Fatalf("ordering: %d %s", code, page)
	}
	if code, page := u.read(u.client.PostForm(address, orderForm())); code != 422 || !strings.Contains(page, "trials on LG-104 are under way") && !strings.Contains(page, "Trials on LG-104 are under way") {
		t.Errorf("a second order: %d", code)
	}
	if code, page := u.read(u.client.PostForm(address, url.Values{"do": {"cancel"}})); code != 200 || !strings.Contains(page, "Cancelled before it ended") {
		t.Errorf("cancelling: %d %s", code, page)
	}
	if s.trials.Busy() != "" {
		t.Error("it goes on")
	}
	if code, _ := u.read(u.client.PostForm(address, url.Values{"do": {"cancel"}})); code != 422 {
		t.Errorf("cancelling what is not there: %d", code)
	}
	if code, _ := u.read(u.client.PostForm(address, long)); code != 200 {
		t.Fatalf("ordering again: %d", code)
	}
	ended := make(chan struct{})
	go func() { s.trials.close(); close(ended) }()
	select {
	case <-ended:
	case <-time.After(20 * time.Second):
		t.Fatal("a station that closes waits for the trials")
	}
	if run, _ := s.trials.Newest("LG-104"); run.State != trials.Cancelled {
		t.Errorf("%s", run.State)
	}
}

// TestTrialThatBreaksOff ends with its reason and leaves the service as it is.
func TestTrialThatBreaksOff(t *testing.T) {
	runner := &trialRunner{config: oneGauge(t), log: slog.New(slog.DiscardHandler)} // without a history
	run, done := &trials.Run{Order: trials.Order{Gauge: "LG-104", From: trialBegin, To: trialBegin.Add(time.Hour)}, State: trials.Running}, make(chan struct{})
	go runner.make(t.Context(), run, attempts.Options{Gauge: runner.config.Gauges[0], Workers: 1}, done)
	<-done
	if run.State != trials.Failed || !strings.HasPrefix(run.Trouble, "the trials broke off: ") || run.Ended.IsZero() {
		t.Errorf("%s: %q", run.State, run.Trouble)
	}
}
