package scenario_test

import (
	"testing"
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

// during runs a glycol gauge for a while with one kind of event, made frequent.
func during(t *testing.T, e scenario.Events, look func(gauge.Snapshot, scenario.Truth)) {
	t.Helper()
	u := newUnit(t, glycol(), scenario.Options{Process: scenario.ControlProcess(), Service: scenario.Service{Events: e}, Seed: 8})
	run(t, u, time.Minute, 10*24*time.Hour, look)
}

func TestBlowDownEmptiesTheChamberOnly(t *testing.T) {
	var drained, recorded, refilled int
	was := false
	during(t, scenario.Events{BlowDowns: 30, Recorded: 0.5}, func(s gauge.Snapshot, truth scenario.Truth) {
		if truth.Vessel < 0.1 {
			t.Fatal("the vessel was emptied as well")
		}
		empty := truth.Chamber < 0
		if empty && !was {
			drained++
			if s.Isolated {
				recorded++
			}
		}
		if was && !empty {
			refilled++
		}
		was = empty
	})
	if drained < 4 || refilled < drained-1 || recorded == 0 || recorded == drained {
		t.Errorf("drained %d times, refilled %d, recorded %d", drained, refilled, recorded)
	}
}

func TestExcursionsReachBothTaps(t *testing.T) {
	var low, high bool
	during(t, scenario.Events{Excursions: 60}, func(_ gauge.Snapshot, truth scenario.Truth) {
		low, high = low || truth.Vessel <= 0, high || truth.Vessel >= 1
	})
	if !low || !high {
		t.Errorf("below the lower tap %v, above the upper tap %v", low, high)
	}
}

func TestRestartRepeatsOldValues(t *testing.T) {
	var before gauge.Snapshot
	repeats, longest := 0, 0
	during(t, scenario.Events{Restarts: 60}, func(s gauge.Snapshot, _ scenario.Truth) {
		if s.Float.Value == before.Float.Value && s.Transmitter.Value == before.Transmitter.Value {
			repeats++
			longest = max(longest, repeats)
			if !s.Float.Time.Equal(s.Time) || s.Float.Quality != quantity.Good {
				t.Fatalf("the repeated value is marked: %+v", s.Float)
			}
		} else {
			repeats = 0
		}
		before = s
	})
	if longest < 2 || longest > 12 {
		t.Errorf("old values were repeated for %d minutes at most, want 2 to 10", longest)
	}
}

func TestUntidyFeed(t *testing.T) {
	u := newUnit(t, glycol(), scenario.Options{Service: scenario.Untidy(), Seed: 4})
	feed := scenario.NewFeed(u, time.Minute, 4)
	var last, newest time.Time
	var repeated, late, stepped int
	intervals := map[int]bool{}
	for range 200000 {
		now, s, err := feed.Next()
		if err != nil {
			t.Fatal(err)
		}
		if !last.IsZero() {
			switch gap := now.Sub(last); {
			case gap < 0 || gap > 75*time.Second:
				stepped++
			default:
				intervals[int(gap.Seconds())/10] = true
			}
			if s.Time.Before(now) {
				late++
			}
			if s.Time.Equal(newest) {
				repeated++
			}
		}
		last, newest = now, s.Time
	}
	if repeated < 300 || late < 200 || stepped < 2 || len(intervals) < 4 {
		t.Errorf("repeated %d, late %d, clock steps %d, intervals of %d kinds", repeated, late, stepped, len(intervals))
	}
}

func TestTidyFeedKeepsItsInterval(t *testing.T) {
	u := newUnit(t, glycol(), scenario.Options{Service: scenario.Benign(), Seed: 4})
	feed := scenario.NewFeed(u, 10*time.Second, 4)
	for i := 1; i < 1000; i++ {
		now, s, err := feed.Next()
		if err != nil {
			t.Fatal(err)
		}
		if want := start.Add(time.Duration(i) * 10 * time.Second); !now.Equal(want) || !s.Time.Equal(want) {
			t.Fatalf("scan %d is at %v by the clock and %v by the snapshot, want %v", i, now, s.Time, want)
		}
	}
}
