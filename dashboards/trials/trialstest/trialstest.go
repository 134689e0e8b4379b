// Package trialstest is a runner of trials that makes none, so that the pages can be
// tested. All of it is invented.
package trialstest

import (
	"context"
	"errors"
	"sync"
	"time"

	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/trials"
)

// Runner is a runner that keeps what was ordered and makes nothing: a report of
// LG-102 is there, and an order on LG-107 is under way.
type Runner struct {
	mu        sync.Mutex
	Ordered   []trials.Order
	Cancelled []string
}

var _ trials.Runner = (*Runner)(nil)

// Extent is half a year before planttest.Now.
func (*Runner) Extent(context.Context) (from, to time.Time, err error) {
	return planttest.Now.AddDate(0, -6, 0), planttest.Now, nil
}

// Start keeps the order.
func (t *Runner) Start(_ context.Context, _ access.Actor, o trials.Order) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if o.Gauge == "LG-103" {
		return errors.New("trials on LG-107 are under way: wait until they end, or cancel them there")
	}
	t.Ordered = append(t.Ordered, o)
	return o.Check(max(1, len(o.Faults)) * max(o.Times, len(o.At)))
}

// Cancel keeps the gauge.
func (t *Runner) Cancel(_ context.Context, _ access.Actor, gauge string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.Cancelled = append(t.Cancelled, gauge)
	return nil
}

// Busy is LG-107.
func (*Runner) Busy() string { return "LG-107" }

// Newest is a report, an order under way, one that failed, or none.
func (*Runner) Newest(gauge string) (trials.Run, bool) {
	o := trials.Order{Gauge: gauge, From: planttest.Now.AddDate(0, -4, 0), To: planttest.Now, Times: 2, Before: 14 * 24 * time.Hour, Watch: 30 * 24 * time.Hour}
	r := trials.Run{Order: o, By: "R. Okafor", Began: planttest.Now.Add(-time.Hour), State: trials.Done, Ended: planttest.Now.Add(-20 * time.Minute)}
	switch gauge {
	case "LG-102":
		r.Report = trialReport()
		return r, true
	case "LG-107":
		r.State, r.Stage, r.Share, r.Ended = trials.Running, "LG-107: 41 faults at 2 times each, watched for up to 30.0 d", 0.43, time.Time{}
		r.Faults = []scenario.Fault{{Gauge: gauge, Kind: scenario.FloatStuck, Part: "LI-107"}}
		return r, true
	case "LG-108":
		r.State, r.Trouble = trials.Failed, "gauge LG-108: nowhere in the history from 2026-07-25T00:00:00Z to 2026-11-25T00:00:00Z are 14.0 d of learning followed by 10.0 d without an alert of its own"
		return r, true
	}
	return r, false
}

func trialReport() *trials.Report {
	soon, late, day := 6.3, 41.0, 96.5
	r := &trials.Report{
		Gauge: "LG-102", From: planttest.Now.AddDate(0, -4, 0), To: planttest.Now, Snapshots: 175_680, Seed: 1, Watch: 720, LimitMM: 15, OwnPer: 3,
		Own: []trials.Own{{Alert: planttest.Now.AddDate(0, -2, 0), Closed: planttest.Now.AddDate(0, -2, 2), Symptom: "gap beyond budget", Blamed: "LT-102 (transmitter)", Sentence: "The gap is 21 mm, 15 mm are allowed. Zero of transmitter LT-102 has probably shifted."},
			{Alert: planttest.Now.Add(-165 * time.Minute), Symptom: "float does not move", Blamed: "LI-102 (float)", Sentence: "Float has not moved for 3 h 10 min. Float is probably stuck."}},
		Times: []string{planttest.Now.AddDate(0, -3, 3).Format(time.RFC3339), planttest.Now.AddDate(0, -1, -9).Format(time.RFC3339)},
		Rows: []trials.Row{
			{Fault: "float-stuck/LI-102", Kind: "float-stuck", Instrument: "LI-102", Trials: 2, Found: 2, Watch: &trials.Delay{Median: 2.1, Worst: 3.2}, Alert: &trials.Delay{Median: 4.2, Worst: soon}, Right: 2},
			{Fault: "transmitter-zero/LT-102=7.5mm", Kind: "transmitter-zero", Instrument: "LT-102", Size: 0.0075, Trials: 2, Why: []string{"missed in 2, watched for at most 30.0 d; it changed a level by 7.5 mm on average, less than the 15 mm that are allowed"}},
			{Fault: "transmitter-zero/LT-102=30mm", Kind: "transmitter-zero", Instrument: "LT-102", Size: 0.03, Trials: 3, Found: 2, Watch: &trials.Delay{Median: 5, Worst: 9}, Alert: &trials.Delay{Median: late, Worst: day}, Right: 1, Wrong: 1, Blamed: map[string]int{"LI-102 (float)": 1},
				Why: []string{"missed in 1, watched for at most 12.0 d; it changed a level by 30 mm on average", "the gauge says it cannot see a shift while the level rests: nothing moved"}},
			{Fault: "point-failed/LSH-102", Kind: "point-failed", Instrument: "LSH-102", NoEffect: 2},
		},
		Trials: []trials.Trial{
			{Fault: "transmitter-zero/LT-102=7.5mm", At: planttest.Now.AddDate(0, -3, 3), Watched: 720, Changed: 43_200, MovedMM: 7.5, Events: []trials.Event{}},
			{Fault: "transmitter-zero/LT-102=30mm", At: planttest.Now.AddDate(0, -1, -9), Watched: 168.5, Changed: 10_110, MovedMM: 30, Alert: &day, Verdict: trials.Wrong, Blamed: "LI-102 (float)", Cause: "float-heavier", Said: "The gap is 31 mm, 15 mm are allowed. Float is probably heavier than it was: deposit or a slow leak."},
		},
		Cautions: trials.Cautions(),
	}
	trials.Conclude(r)
	return r
}
