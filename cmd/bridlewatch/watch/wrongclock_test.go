package watch

import (
	"fmt"
	"log/slog"
	"os"
	"testing"
	"time"

	"bridlewatch/collector/store/replacement"
)

// TestStateOfARightClock lets detectors run by a clock that is wrong in every
// way clocks are, and looks which state is in force after each step. A state is
// known by the day it learned on.
func TestStateOfARightClock(t *testing.T) {
	today := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	day := 24 * time.Hour
	never := time.Unix(3600, 0)
	type step struct {
		now  time.Time
		want time.Time // newest scan of the state in force; zero: begun anew
		runs time.Duration
	}
	for name, steps := range map[string][]step{
		"an hour back waits":                    {{today, time.Time{}, day}, {today.Add(day - time.Hour), today.Add(day), 0}},
		"a stop of a month goes on":             {{today, time.Time{}, day}, {today.Add(30 * day), today.Add(day), day}},
		"a year ahead for two days":             {{today, time.Time{}, day}, {today.Add(366 * day), today.Add(day), 2 * day}, {today.Add(3 * day), today.Add(day), 0}},
		"1970 at boot":                          {{today, time.Time{}, day}, {never, time.Time{}, time.Hour}, {today.Add(2 * day), today.Add(day), 0}},
		"1970 at two boots":                     {{today, time.Time{}, day}, {never, time.Time{}, time.Hour}, {never.Add(-time.Minute), never.Add(time.Hour), 0}, {today.Add(2 * day), today.Add(day), 0}},
		"ahead, right, then 1970 at boot":       {{today, time.Time{}, day}, {today.Add(40 * day), today.Add(day), day}, {today.Add(2 * day), today.Add(day), day}, {never, time.Time{}, time.Hour}, {today.Add(4 * day), today.Add(3 * day), 0}},
		"1970 at the first boot of all":         {{never, time.Time{}, time.Hour}, {today, time.Time{}, 0}},
		"a year back for a day":                 {{today, time.Time{}, day}, {today.Add(-365 * day), time.Time{}, day}, {today.Add(2 * day), today.Add(day), 0}},
		"it was a year ahead since ever":        {{today.Add(365 * day), time.Time{}, day}, {today, time.Time{}, 20 * day}, {today.Add(370 * day), today.Add(20 * day), 0}},
		"ahead, right, and a stop much later":   {{today, time.Time{}, day}, {today.Add(40 * day), today.Add(day), day}, {today.Add(2 * day), today.Add(day), 30 * day}, {today.Add(50 * day), today.Add(32 * day), 0}},
		"a glitch of a year back while it runs": {{today, time.Time{}, day}, {today.Add(day - 365*day), time.Time{}, time.Minute}, {today.Add(day + time.Minute), today.Add(day), 0}},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if err := os.Mkdir(StateDir(dir), 0o700); err != nil {
				t.Fatal(err)
			}
			for i, s := range steps {
				did, err := ChooseState(dir, s.now, slog.New(slog.DiscardHandler))
				if err != nil {
					t.Fatal(err)
				}
				last := readState(StateFile(dir)).last
				if !last.Equal(s.want) {
					t.Fatalf("step %d, %s: the state of %s is in force, want that of %s (%s)", i, s.now, last, s.want, did)
				}
				if s.runs == 0 {
					continue
				}
				text := fmt.Sprintf(`{"saved":"2026-01-01T00:00:00Z","states":{"LG-1":{"Last":%d}}}`, s.now.Add(s.runs).Unix())
				if err := replacement.WriteBytes(StateFile(dir), 0o600, []byte(text)); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}

// TestWaitingForTheClockIsSaid: scans of an hour ago are compared, and it is said
// that nothing is found by them.
func TestWaitingForTheClockIsSaid(t *testing.T) {
	f := shoot(t, "LG-104", 10*time.Minute)
	w := run(t, f, Options{Views: true}, 0, len(f.shots))
	if h := w.Health(); len(h.Notices) != 0 {
		t.Fatalf("notices %q before the clock was set", h.Notices)
	}
	late := f.shots[0]
	late.Time = late.Time.Add(-time.Hour)
	w.Cycle(t.Context(), late)
	if h := w.Health(); len(h.Notices) != 1 {
		t.Errorf("notices %q, want that nothing is found for a while", h.Notices)
	}
	if v, _ := w.Gauge("LG-104"); !v.Result.Time.Equal(late.Time) {
		t.Errorf("compared at %s, want %s: levels are compared all the same", v.Result.Time, late.Time)
	}
}
