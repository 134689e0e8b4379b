// Package trial puts faults into history and sees what the watch would have
// made of them.
//
// History is read twice. The first time it goes through the comparison as it
// is: what it raises by itself is said first, and says where it is quiet. The
// second time the comparison is copied at each chosen time, once for every
// fault; each copy goes on with readings that have the fault in them, by the
// code of the live service. Nothing is stored and no device is asked.
package trial

import (
	"cmp"
	"context"
	"fmt"
	"runtime"
	"time"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/compare"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
	"bridlewatch/dashboards/trials"
)

// Options say what is tried on one gauge.
type Options struct {
	Gauge   config.Gauge
	Works   []compare.Work                // what people did at it, in order of time
	Open    func() (watch.History, error) // history from its beginning, with the signals of the gauge only
	Faults  []scenario.Fault              // none: the ladder of the gauge
	At      []time.Time                   // when they begin; none: Times, spread over the quiet parts
	Times   int
	Before  time.Duration // history before a fault begins, in which normal is learned
	Watch   time.Duration // how long a fault is watched
	Seed    uint64
	Workers int                 // 0: all processors
	Say     func(string)        // what is about to be done; nil: nobody listens
	Step    func(watch.History) // called now and then; nil: nobody listens
}

// Default lengths.
const (
	DefaultTimes  = 5
	DefaultBefore = 14 * 24 * time.Hour // a baseline is learned over so long
	DefaultWatch  = 30 * 24 * time.Hour
)

// MostTimes is how many times a fault may begin.
const MostTimes = 1000

// leastWatch is the part of Watch a chosen time must have before it.
const leastWatch = 3

// complete fills in what was left open.
func (o *Options) complete() {
	o.Times = cmp.Or(o.Times, DefaultTimes)
	o.Before = cmp.Or(o.Before, DefaultBefore)
	o.Watch = cmp.Or(o.Watch, DefaultWatch)
	o.Workers = cmp.Or(o.Workers, runtime.GOMAXPROCS(0))
	if o.Say == nil {
		o.Say = func(string) {}
	}
	if o.Step == nil {
		o.Step = func(watch.History) {}
	}
}

// Run tries the faults. The same options give the same report, whatever the
// number of workers.
func Run(ctx context.Context, o Options) (*trials.Report, error) {
	o.complete()
	for _, f := range o.Faults { // what cannot be is said before history is read
		if _, err := scenario.NewGraft(&o.Gauge.Sheet, f, time.Time{}, o.Seed); err != nil {
			return nil, err
		}
	}
	tag := o.Gauge.Sheet.Tag
	o.Say(fmt.Sprintf("%s: the history as it is", tag))
	own, err := readOwn(ctx, &o)
	if err != nil {
		return nil, err
	}
	times, err := chooseTimes(&o, own)
	if err != nil {
		return nil, err
	}
	faults := o.Faults
	if len(faults) == 0 {
		faults = Ladder(&o.Gauge.Sheet, own.limit)
	}
	each := fmt.Sprintf("at %d times each", len(times))
	if len(times) == 1 {
		each = "at one time"
	}
	o.Say(fmt.Sprintf("%s: %s %s, watched for up to %s", tag, counted(len(faults), "fault"), each, trials.Days(o.Watch)))
	attempts, err := runAttempts(ctx, &o, own, faults, times)
	if err != nil {
		return nil, err
	}
	return newReport(&o, own, faults, times, attempts), nil
}

func counted(n int, what string) string {
	if n == 1 {
		return "one " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
