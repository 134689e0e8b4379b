package watch

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/config"
)

// TestDelayIsPricedWithTheSpeed: a value that was true ninety seconds before
// its stamp lies behind a level that rises by what it rises in ninety seconds.
func TestDelayIsPricedWithTheSpeed(t *testing.T) {
	f := shoot(t, "LG-101", time.Minute)
	g := f.config.Gauges[0]
	sig := g.Signal(config.RoleFloat, 0)
	sig.Delay = 90 * time.Second
	u, err := newUnit(g, 0, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	now, samples := f.shots[0].Time, f.shots[0].Samples
	u.take(samples)
	u.evaluate(now)
	if got := now.Sub(u.snapshot.Float.Time); got != 90*time.Second {
		t.Errorf("the float's value is taken to be %v old", got)
	}
	if !u.seen.Equal(now) {
		t.Errorf("the delay makes the value look stale: seen %v", u.seen)
	}
	var m gauge.Measurement
	model, err := gauge.New(g.Sheet)
	if err != nil {
		t.Fatal(err)
	}
	rising := gauge.Memory{Rate: 0.001} // m/s, as the comparison finds it
	model.MeasureNext(&u.snapshot, &rising, &m)
	if got := m.Float.Parts[level.Skew]; math.Abs(got+0.09) > 1e-9 {
		t.Errorf("the delay is priced with %v m, want -0.09", got)
	}
}

// A delay that is taken off a stamp is said beside the evidence, over its time.
func TestDelayIsExplained(t *testing.T) {
	f := shoot(t, "LG-101", time.Minute)
	g := f.config.Gauges[0]
	g.Signal(config.RoleFloat, 0).Delay = 90 * time.Second
	u, err := newUnit(g, 0, time.Hour)
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	lines := []cause.Evidence{{From: from.Add(time.Hour), To: from.Add(3 * time.Hour)}, {From: from, To: from.Add(2 * time.Hour)}}
	said := u.delayed(lines)
	if len(said) != 1 || said[0].Sentence != g.Sheet.Float.Tag+" is compared as of 90 s before its stamp: the delay configured." {
		t.Fatalf("said %+v", said)
	}
	if !said[0].From.Equal(from) || !said[0].To.Equal(from.Add(3*time.Hour)) {
		t.Errorf("over %v to %v", said[0].From, said[0].To)
	}
}
