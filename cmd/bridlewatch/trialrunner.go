package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"
	"syscall"
	"time"

	attempts "bridlewatch/cmd/bridlewatch/trial"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare"
	"bridlewatch/config"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/trials"
)

// trialRunner makes the trials pages order, beside the service: on one thread of
// low priority that works half of the time, from the history the service keeps. What
// came of them stays in memory until the service stops.
type trialRunner struct {
	config *config.Config
	db     *embedded.DB
	log    *slog.Logger
	works  func(ctx context.Context, gauge string) ([]compare.Work, error)
	audit  func(ctx context.Context, by access.Actor, what, subject, before, after string) error

	mu     sync.Mutex
	runs   []*trials.Run // newest last, one a gauge
	cancel context.CancelFunc
	done   chan struct{} // closed when what is under way has ended; nil: nothing was begun
}

var _ trials.Runner = (*trialRunner)(nil)

// keptTrials is of how many gauges the newest report is kept: each is some hundred
// kilobytes at most.
const keptTrials = 20

func (t *trialRunner) Extent(ctx context.Context) (from, to time.Time, err error) {
	return t.db.Extent(ctx)
}

// Newest is the newest order of a gauge, as it is now.
func (t *trialRunner) Newest(gauge string) (trials.Run, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if i := t.of(gauge); i >= 0 {
		return *t.runs[i], true
	}
	return trials.Run{}, false
}

func (t *trialRunner) of(gauge string) int {
	return slices.IndexFunc(t.runs, func(r *trials.Run) bool { return r.Gauge == gauge })
}

// Busy is the gauge an order is under way on.
func (t *trialRunner) Busy() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.busy()
}

func (t *trialRunner) busy() string {
	for _, r := range t.runs {
		if r.State == trials.Running {
			return r.Gauge
		}
	}
	return ""
}

// Start begins an order and returns at once.
func (t *trialRunner) Start(ctx context.Context, by access.Actor, o trials.Order) error {
	i := slices.IndexFunc(t.config.Gauges, func(g config.Gauge) bool { return g.Sheet.Tag == o.Gauge })
	if i < 0 {
		return fmt.Errorf("there is no gauge %s", o.Gauge)
	}
	faults, times := len(o.Faults), len(o.At)
	if faults == 0 {
		faults = len(attempts.Ladder(&t.config.Gauges[i].Sheet, t.config.Gauges[i].Sheet.Chamber.CentreToCentre/50)) // as many in any sizes
	}
	if times == 0 {
		times = o.Times
	}
	if err := o.Check(faults * times); err != nil {
		return err
	}
	works, err := t.works(ctx, o.Gauge)
	if err != nil {
		return fmt.Errorf("read records of %s: %w", o.Gauge, err)
	}
	run := &trials.Run{Order: o, By: by.Name, Began: time.Now(), State: trials.Running, Stage: "begins"}
	long, cancel := context.WithCancel(context.WithoutCancel(ctx))
	t.mu.Lock()
	defer t.mu.Unlock()
	if busy := t.busy(); busy != "" {
		cancel()
		return fmt.Errorf("trials on %s are under way: wait until they end, or cancel them there", busy)
	}
	if err := t.audit(ctx, by, "began trials on the history of", o.Gauge, "", ""); err != nil {
		cancel()
		return err
	}
	if i := t.of(o.Gauge); i >= 0 {
		t.runs = slices.Delete(t.runs, i, i+1)
	}
	t.runs = append(t.runs, run)
	t.runs = t.runs[max(0, len(t.runs)-keptTrials):]
	t.cancel, t.done = cancel, make(chan struct{})
	go t.make(long, run, attempts.Options{
		Gauge: t.config.Gauges[i], Works: works, Faults: o.Faults, At: o.At, Times: o.Times, Before: o.Before, Watch: o.Watch, Seed: 1, Workers: 1,
	}, t.done)
	return nil
}

// Cancel ends what is under way on a gauge and returns when it has ended.
func (t *trialRunner) Cancel(ctx context.Context, by access.Actor, gauge string) error {
	t.mu.Lock()
	if t.busy() != gauge {
		t.mu.Unlock()
		return fmt.Errorf("no trials are under way on %s", gauge)
	}
	t.cancel()
	done := t.done
	t.mu.Unlock()
	<-done
	return t.audit(ctx, by, "cancelled trials on the history of", gauge, "", "")
}

// close ends what is under way.
func (t *trialRunner) close() {
	t.mu.Lock()
	done := t.done
	if t.cancel != nil {
		t.cancel()
	}
	t.mu.Unlock()
	if done != nil {
		<-done
	}
}

// make carries out an order.
func (t *trialRunner) make(ctx context.Context, run *trials.Run, o attempts.Options, done chan struct{}) {
	defer close(done)
	defer func() {
		if p := recover(); p != nil { // the service goes on
			t.end(run, nil, fmt.Errorf("the trials broke off: %v", p))
			t.log.Error("trials on history broke off", "gauge", run.Gauge, "panic", p, "stack", string(debug.Stack()))
		}
	}()
	lowly()
	var pace pacer
	one := *t.config
	one.Gauges = []config.Gauge{o.Gauge}
	o.Open = func() (watch.History, error) {
		h, err := watch.OpenKept(ctx, t.db, &one, run.From, run.To)
		if err != nil {
			return nil, err
		}
		t.change(func() { run.Incomplete = h.Missing })
		return h, nil
	}
	o.Say = func(text string) { t.change(func() { run.Stage, run.Share = text, 0 }) }
	o.Step = func(h watch.History) {
		if k, ok := h.(*watch.Kept); ok {
			now, all := k.Progress()
			t.change(func() { run.Share = float64(now) / float64(max(1, all)) })
		}
		pace.rest(ctx)
	}
	report, err := attempts.Run(ctx, o)
	t.end(run, report, err)
	t.log.Info("trials on history ended", "gauge", run.Gauge, "by", run.By, "state", string(run.State), "took", run.Ended.Sub(run.Began).Round(time.Second).String(), "trouble", run.Trouble)
}

func (t *trialRunner) end(run *trials.Run, report *trials.Report, err error) {
	t.change(func() {
		run.Ended = time.Now()
		switch {
		case errors.Is(err, context.Canceled):
			run.State = trials.Cancelled
		case err != nil:
			run.State, run.Trouble = trials.Failed, err.Error()
		default:
			run.State, run.Report = trials.Done, report
		}
	})
}

func (t *trialRunner) change(do func()) {
	t.mu.Lock()
	defer t.mu.Unlock()
	do()
}

// lowly keeps the goroutine on a thread of its own and gives that thread, where the
// system knows priorities of threads, the lowest but a few. The thread ends with the
// goroutine.
func lowly() {
	runtime.LockOSThread()
	if runtime.GOOS == "linux" {
		_ = syscall.Setpriority(syscall.PRIO_PROCESS, 0, 15) // where it is not allowed the rests remain
	}
}

// pacer rests as long as was worked: half of one processor at most.
type pacer struct{ since time.Time }

func (p *pacer) rest(ctx context.Context) {
	if !p.since.IsZero() {
		worked := time.NewTimer(min(time.Since(p.since), time.Second))
		defer worked.Stop()
		select {
		case <-worked.C:
		case <-ctx.Done():
		}
	}
	p.since = time.Now()
}
