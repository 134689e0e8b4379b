// Package trials is what pages may ask about faults that are put into the history
// a service kept of a gauge, and the report of them in words. How a trial is made
// is not known here.
package trials

import (
	"context"
	"fmt"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/access"
)

// Runner makes trials beside the service: one order at a time, slowly, and only by
// reading.
type Runner interface {
	// Extent says when the history there is begins and ends.
	Extent(ctx context.Context) (from, to time.Time, err error)
	// Start begins an order. It is refused while another is under way.
	Start(ctx context.Context, by access.Actor, o Order) error
	// Cancel ends what is under way on a gauge.
	Cancel(ctx context.Context, by access.Actor, gauge string) error
	// Newest is the newest order of a gauge with what came of it.
	Newest(gauge string) (Run, bool)
	// Busy is the gauge an order is under way on, "" while there is none.
	Busy() string
}

// What an order may ask for at most, so that it ends within hours beside a service.
const (
	MostDays   = 400 // of history
	MostTimes  = 10  // at which a fault begins
	MostTrials = 120 // faults times the times they begin
)

// Order is what is to be tried on one gauge.
type Order struct {
	Gauge    string
	From, To time.Time        // of the history, the end exclusive
	Faults   []scenario.Fault // none: every kind the gauge can have, in sizes around the allowed gap
	At       []time.Time      // when they begin; none: Times, by chance, where the history is quiet
	Times    int
	Before   time.Duration // history before a fault begins, in which normal is learned
	Watch    time.Duration // how long a fault is watched
}

// Check refuses an order that asks for too much or for what cannot be. trials is
// how many there would be.
func (o *Order) Check(trials int) error {
	switch {
	case !o.From.Before(o.To):
		return fmt.Errorf("the history asked for ends on %s and begins on %s: the end must be after the begin", o.To.Format(time.DateOnly), o.From.Format(time.DateOnly))
	case o.To.Sub(o.From) > MostDays*24*time.Hour:
		return fmt.Errorf("%.0f days of history are asked for, at most %d are tried here: choose fewer, or use bridlewatch trial on a copy", o.To.Sub(o.From).Hours()/24, MostDays)
	case o.Before <= 0 || o.Watch <= 0:
		return fmt.Errorf("learning over %s and watching for %s: both must be above zero", Days(o.Before), Days(o.Watch))
	case len(o.At) == 0 && (o.Times < 1 || o.Times > MostTimes):
		return fmt.Errorf("%d times: want 1 to %d", o.Times, MostTimes)
	case trials > MostTrials:
		return fmt.Errorf("that would be %d trials, at most %d are made here: choose one fault or fewer times", trials, MostTrials)
	}
	return nil
}

// State is how far an order is.
type State string

// States.
const (
	Running   State = "running"
	Done      State = "done"
	Failed    State = "failed"
	Cancelled State = "cancelled"
)

// Run is an order and what came of it.
type Run struct {
	Order
	By         string
	Began      time.Time
	Ended      time.Time // zero: under way
	State      State
	Stage      string   // what is being done
	Share      float64  // of the history that stage has read, 0 to 1
	Report     *Report  // of a run that is done
	Trouble    string   // why it failed
	Incomplete []string // signals of which nothing is kept
}

// Offers lists what can be put into the readings of a gauge, each kind at each
// instrument that can have it, in the size that is usual.
func Offers(sheet *datasheet.Sheet) (all []Offer) {
	parts := []string{sheet.Float.Tag}
	for _, t := range []*datasheet.Transmitter{sheet.Transmitter, sheet.Second} {
		if t != nil {
			parts = append(parts, t.Tag)
		}
	}
	for i := range sheet.Points {
		parts = append(parts, sheet.Points[i].Tag)
	}
	if sheet.Vessel != nil {
		parts = append(parts, sheet.Vessel.Tag)
	}
	for _, k := range scenario.GraftKinds() {
		whole := scenario.Fault{Gauge: sheet.Tag, Kind: k.Kind}
		found := false
		for _, part := range parts {
			f := whole
			if f.Part = part; scenario.CanGraft(sheet, f) {
				all, found = append(all, Offer{f.Text(), k.Text, part, k.Size}), true
			}
		}
		if !found && scenario.CanGraft(sheet, whole) {
			all = append(all, Offer{whole.Text(), k.Text, "", k.Size})
		}
	}
	return all
}

// Offer is a fault that can be chosen.
type Offer struct {
	Fault string // KIND[/PART]
	Text  string // the kind in words
	Part  string // tag of the instrument; empty: the chamber
	Size  string // what a size of it is, in words; empty: it has none
}
