package poll_test

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/poll"
	"bridlewatch/compare/quantity"
)

// run runs a poller in fake time for a while and returns its snapshots.
func run(t *testing.T, p *poll.Poller, d time.Duration, during func()) []collector.Snapshot {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), d)
	defer cancel()
	var shots []collector.Snapshot
	if during != nil {
		go during()
	}
	if err := p.Run(ctx, func(s collector.Snapshot) { shots = append(shots, s) }); !errors.Is(err, context.DeadlineExceeded) {
		t.Fatalf("Run: %v", err)
	}
	return shots
}

func newPoller(t *testing.T, scan time.Duration, jobs ...poll.Job) *poll.Poller {
	t.Helper()
	p, err := poll.New(jobs, scan, poll.System{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestSnapshotsAreAlignedAndComplete(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(1234 * time.Millisecond) // start between two ticks
		fast := collectortest.NewSource(poll.System{}, "fast", "LT-101", "PT-101")
		slow := collectortest.NewSource(poll.System{}, "slow", "TT-101")
		fast.Set("LT-101", 1)
		fast.Fail("PT-101", quantity.Refused)
		slow.Set("TT-101", 300)
		fast.Delay(100 * time.Millisecond)
		p := newPoller(t, 0, poll.Job{Source: fast, Every: time.Second}, poll.Job{Source: slow, Every: 5 * time.Second})
		shots := run(t, p, 21*time.Second, nil)
		if len(shots) != 21 {
			t.Fatalf("%d snapshots, want 21", len(shots))
		}
		for i, s := range shots {
			if s.Time.Nanosecond() != 0 || i > 0 && s.Time.Sub(shots[i-1].Time) != time.Second {
				t.Errorf("snapshot %d is of %v", i, s.Time)
			}
			if len(s.Samples) != 3 || s.Samples[0].Value != 1 || s.Samples[0].Quality != quantity.Good || s.Samples[1].Reason != quantity.Refused {
				t.Fatalf("snapshot %d: %+v", i, s.Samples)
			}
			if got := s.Samples[0].Time.Sub(s.Time); got != 100*time.Millisecond {
				t.Errorf("snapshot %d waited %v for its read, want 100ms", i, got)
			}
		}
		if first := shots[0].Samples[2]; first.Quality != quantity.Absent || first.Reason != quantity.NotRead {
			t.Errorf("not read yet, but %+v", first)
		}
		if last := shots[20].Samples[2]; last.Quality != quantity.Good || slow.Reads() != 4 {
			t.Errorf("slow source: %+v after %d reads, want 4", last, slow.Reads())
		}
	})
}

func TestBusySourceIsSkippedNotQueued(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		healthy := collectortest.NewSource(poll.System{}, "healthy", "LT-1")
		stuck := collectortest.NewSource(poll.System{}, "stuck", "LT-2")
		healthy.Set("LT-1", 1)
		stuck.Set("LT-2", 2)
		stuck.Delay(2500 * time.Millisecond)
		p := newPoller(t, time.Second, poll.Job{Source: healthy, Every: time.Second}, poll.Job{Source: deaf{stuck}, Every: time.Second})
		shots := run(t, p, 30*time.Second+time.Millisecond, nil)
		if len(shots) != 30 || healthy.Reads() != 30 {
			t.Errorf("%d snapshots and %d reads of the healthy source, want 30", len(shots), healthy.Reads())
		}
		stats := p.Stats()[1]
		if stuck.Reads() != 10 || stats.Skipped != 20 {
			t.Errorf("stuck source: %d reads, %d skipped; want 10 and 20", stuck.Reads(), stats.Skipped)
		}
	})
}

// deaf is a source that does not listen to its context, as a driver stuck in
// the operating system would not.
type deaf struct{ *collectortest.Source }

func (d deaf) Read(ctx context.Context) ([]collector.Sample, error) {
	return d.Source.Read(context.WithoutCancel(ctx))
}

func TestReadEndsWithTheInterval(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := collectortest.NewSource(poll.System{}, "slow", "LT-1")
		s.Set("LT-1", 1)
		s.Delay(time.Hour)
		p := newPoller(t, 0, poll.Job{Source: s, Every: time.Second})
		shots := run(t, p, 1999*time.Millisecond+time.Second, nil)
		last := shots[len(shots)-1].Samples[0]
		if last.Quality != quantity.Bad || last.Reason != quantity.NoAnswer {
			t.Errorf("got %+v, want bad, no answer", last)
		}
		if d := p.Stats()[0].LastDuration; d != 950*time.Millisecond {
			t.Errorf("the read took %v, want 950ms", d)
		}
	})
}

func TestOldSamplesBecomeStale(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := collectortest.NewSource(poll.System{}, "hangs", "LT-1")
		s.Set("LT-1", 1)
		p := newPoller(t, time.Second, poll.Job{Source: deaf{s}, Every: time.Second, MaxAge: 3 * time.Second})
		shots := run(t, p, 10*time.Second+time.Millisecond, func() {
			time.Sleep(2500 * time.Millisecond)
			s.Delay(5500 * time.Millisecond) // the read of second 3 hangs
			time.Sleep(time.Second)
			s.Delay(0)
		})
		var got []quantity.Quality
		for _, shot := range shots {
			got = append(got, shot.Samples[0].Quality)
		}
		good, stale := quantity.Good, quantity.Stale
		// Read at 1 and 2, then at 8.5 and 9: until then the newest is of second 2.
		want := []quantity.Quality{good, good, good, good, good, stale, stale, stale, good, good}
		for i := range want {
			if i >= len(got) || got[i] != want[i] {
				t.Fatalf("qualities %v, want %v", got, want)
			}
		}
	})
}

func TestUnreachableSourceIsLeftAloneLonger(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := collectortest.NewSource(poll.System{}, "down", "LT-1")
		s.Set("LT-1", 1)
		s.Down(collectortest.ErrDown)
		p := newPoller(t, time.Second, poll.Job{Source: s, Every: time.Second})
		run(t, p, 10*time.Minute, nil)
		stats := p.Stats()[0]
		if s.Reads() < 12 || s.Reads() > 80 {
			t.Errorf("%d attempts in ten minutes, want 12 to 80", s.Reads())
		}
		if stats.Scans+stats.Rested+stats.Skipped < 599 || !errors.Is(stats.LastError, collectortest.ErrDown) {
			t.Errorf("books do not add up: %+v", stats)
		}
		s.Down(nil)
		shots := run(t, p, 2*time.Minute, nil)
		if last := shots[len(shots)-1].Samples[0]; last.Quality != quantity.Good {
			t.Errorf("not recovered within two minutes: %+v", last)
		}
	})
}

// TestConnectedButNoData: a source whose reads succeed and bring nothing is
// made to connect anew, ever more rarely.
func TestConnectedButNoData(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := collectortest.NewSource(poll.System{}, "mute", "LT-1")
		s.Fail("LT-1", quantity.Refused)
		p := newPoller(t, 0, poll.Job{Source: s, Every: time.Second})
		run(t, p, 20*time.Second, nil)
		if s.Closed() || p.Stats()[0].Renewed != 0 {
			t.Error("connected anew though it never had data")
		}
		s.Set("LT-1", 1)
		run(t, p, 5*time.Second, nil)
		s.Fail("LT-1", quantity.DeviceUncertain)
		run(t, p, 30*time.Second+time.Millisecond, nil)
		if n := p.Stats()[0].Renewed; !s.Closed() || n != 4 { // after 3, 6, 12 and 24 reads
			t.Errorf("connected anew %d times in 30 reads, want 4", n)
		}
	})
}

func TestSlowReceiverSkipsSnapshots(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := collectortest.NewSource(poll.System{}, "fast", "LT-1")
		s.Set("LT-1", 1)
		p := newPoller(t, 0, poll.Job{Source: s, Every: time.Second})
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second+time.Millisecond)
		defer cancel()
		calls := 0
		p.Run(ctx, func(collector.Snapshot) { calls++; time.Sleep(2500 * time.Millisecond) })
		if calls != 7 || p.SkippedSnapshots() != 13 || s.Reads() != 20 {
			t.Errorf("%d calls, %d skipped, %d reads; want 7, 13 and 20", calls, p.SkippedSnapshots(), s.Reads())
		}
	})
}

func TestOnceUsesTheGivenTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := collectortest.NewSource(poll.System{}, "a", "LT-1")
		b := collectortest.NewSource(poll.System{}, "b", "LT-2")
		a.Set("LT-1", 1)
		b.Set("LT-2", 2)
		a.Delay(time.Second)
		b.Delay(time.Second)
		p := newPoller(t, 0, poll.Job{Source: a, Every: 10 * time.Second}, poll.Job{Source: b, Every: 10 * time.Second})
		start := time.Now()
		at := time.Date(2031, 5, 1, 12, 0, 0, 0, time.UTC)
		for i := range 3 {
			at = at.Add(time.Hour)
			shot := p.Once(t.Context(), at)
			if !shot.Time.Equal(at) || !shot.Samples[0].Time.Equal(at) || !shot.Samples[1].Time.Equal(at) || shot.Samples[1].Quality != quantity.Good {
				t.Fatalf("round %d at %v: %+v", i, at, shot)
			}
		}
		if took := time.Since(start); took != 3*time.Second {
			t.Errorf("took %v, want 3s: sources are read side by side", took)
		}
	})
}

func TestCloseClosesEverySource(t *testing.T) {
	one := collectortest.NewSource(poll.System{}, "one", "LT-1")
	two := collectortest.NewSource(poll.System{}, "two", "LT-2")
	p := newPoller(t, 0, poll.Job{Source: one, Every: time.Second}, poll.Job{Source: two, Every: time.Second})
	if err := p.Close(); err != nil || !one.Closed() || !two.Closed() {
		t.Errorf("error %v, closed %v and %v", err, one.Closed(), two.Closed())
	}
}

func TestNewRefuses(t *testing.T) {
	one := collectortest.NewSource(poll.System{}, "one", "LT-1")
	two := collectortest.NewSource(poll.System{}, "two", "LT-1")
	rows := []struct {
		name string
		jobs []poll.Job
	}{
		{"no sources", nil},
		{"no interval", []poll.Job{{Source: one}}},
		{"a tag twice", []poll.Job{{Source: one, Every: time.Second}, {Source: two, Every: time.Second}}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			if _, err := poll.New(r.jobs, 0, poll.System{}); err == nil {
				t.Error("accepted")
			}
		})
	}
}

// TestPhaseDelaysTheReadNotTheTick gives one of two sources a phase.
func TestPhaseDelaysTheReadNotTheTick(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		early, late := collectortest.NewSource(poll.System{}, "early", "LT-101"), collectortest.NewSource(poll.System{}, "late", "LT-201")
		early.Set("LT-101", 1)
		late.Set("LT-201", 2)
		p := newPoller(t, 0, poll.Job{Source: early, Every: time.Second}, poll.Job{Source: late, Every: time.Second, Phase: 200 * time.Millisecond})
		for _, s := range run(t, p, 5500*time.Millisecond, nil) {
			if a, b := s.Samples[0].Time.Sub(s.Time), s.Samples[1].Time.Sub(s.Time); a != 0 || b != 200*time.Millisecond {
				t.Errorf("read %v and %v after the tick, want 0 and 200 ms", a, b)
			}
		}
		for _, s := range p.Stats() {
			if s.MaxLateness != 0 || s.Scans != 5 {
				t.Errorf("%s: %d scans, late by %v", s.Source, s.Scans, s.MaxLateness)
			}
		}
	})
	if _, err := poll.New([]poll.Job{{Source: collectortest.NewSource(poll.System{}, "x", "A"), Every: time.Second, Phase: time.Second}}, 0, poll.System{}); err == nil {
		t.Error("a phase as long as the interval was accepted")
	}
}
