// Package bench judges the comparison core on simulated gauges: how often a
// healthy gauge raises an alert, how soon each fault is found, whether the
// right instrument is named, and how plain threshold alarms do on the same
// data. It runs package compare exactly as the service does.
package bench

import (
	"context"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"bridlewatch/compare/scenario"
)

// Options say what is run.
type Options struct {
	Set     scenario.Set  // of seeds; "": tune
	Years   float64       // gauge-years for each class of healthy service; negative: none
	Benign  float64       // gauge-years of benign service, where other than Years
	Repeats int           // trials for each fault and size; negative: none
	Every   time.Duration // between scans; 0: 60 s
	Workers int           // 0: all cores
	Wells   int           // records for each kind of stilling well and each of its faults; 0: none
	Only    func(name string) bool
	// Progress is told how many of the trials are done. It is called from one
	// goroutine at a time.
	Progress func(done, total int)
}

// Defaults are sizes that take about ten minutes of one core.
const (
	DefaultYears   = 40
	DefaultRepeats = 24
)

func (o *Options) complete() error {
	if o.Set == "" {
		o.Set = scenario.Tune
	}
	if o.Set != scenario.Tune && o.Set != scenario.Validate && o.Set != scenario.Sealed {
		return fmt.Errorf("set %q: want tune, validate or sealed", o.Set)
	}
	if o.Every == 0 {
		o.Every = time.Minute
	}
	if o.Every < time.Second || o.Every > time.Minute {
		return fmt.Errorf("scan interval %v: want 1 s to 60 s", o.Every)
	}
	if o.Years == 0 {
		o.Years = DefaultYears
	}
	if o.Benign == 0 {
		o.Benign = o.Years
	}
	if o.Repeats == 0 {
		o.Repeats = DefaultRepeats
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Only == nil {
		o.Only = func(string) bool { return true }
	}
	if o.Progress == nil {
		o.Progress = func(int, int) {}
	}
	return nil
}

// Run runs the benchmark. The same options give the same report, whatever the
// number of workers, apart from its times. It stops early with the error of
// ctx.
func Run(ctx context.Context, o Options) (*Report, error) {
	if err := o.complete(); err != nil {
		return nil, err
	}
	began := time.Now()
	plan := newPlan(&o)
	results, err := runAll(ctx, &o, plan)
	if err != nil {
		return nil, err
	}
	r := plan.report(results)
	r.Seconds = time.Since(began).Seconds()
	r.Workers = o.Workers
	return r, nil
}

// plan is the list of trials with what each is for.
type plan struct {
	options *Options
	trials  []scenario.Trial
	classes []scenario.Service // healthy
	cells   []scenario.Cell
	class   []int // of each trial: index into classes, -1 for all others
	cell    []int // of each trial: index into cells, -1 for all others
	wells   wells
}

func newPlan(o *Options) *plan {
	p := &plan{options: o}
	for _, s := range scenario.Services() {
		years := o.Years
		if s.Name == scenario.Benign().Name {
			years = o.Benign
		}
		if !o.Only(s.Name) || years < 0 {
			continue
		}
		p.add(scenario.HealthyTrials(o.Set, s, years, o.Every), len(p.classes), -1)
		p.classes = append(p.classes, s)
	}
	for _, c := range scenario.Ladder() {
		if !o.Only(c.Name()) || o.Repeats < 0 {
			continue
		}
		p.add(scenario.FaultTrials(o.Set, c, o.Repeats, o.Every), -1, len(p.cells))
		p.cells = append(p.cells, c)
	}
	p.planWells()
	return p
}

func (p *plan) add(trials []scenario.Trial, class, cell int) {
	p.trials = append(p.trials, trials...)
	for range trials {
		p.class, p.cell = append(p.class, class), append(p.cell, cell)
	}
}

// runAll runs every trial, longest first in the order of the plan, on all
// workers. One trial runs on one worker from beginning to end.
func runAll(ctx context.Context, o *Options, p *plan) ([]outcome, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	results := make([]outcome, len(p.trials))
	var next atomic.Int64
	var mu sync.Mutex
	var done int
	var group sync.WaitGroup
	for range o.Workers {
		group.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(p.trials) {
					return
				}
				out, err := runTrial(ctx, &p.trials[i])
				if err != nil {
					cancel(fmt.Errorf("trial %s of %s, seed %#x: %w", p.trials[i].Name, p.trials[i].Make, p.trials[i].Options.Seed, err))
					return
				}
				results[i] = out
				mu.Lock()
				done++
				o.Progress(done, len(p.trials))
				mu.Unlock()
			}
		})
	}
	group.Wait()
	return results, context.Cause(ctx)
}
