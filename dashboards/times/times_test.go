package times

import (
	"testing"
	"time"
	_ "time/tzdata"
)

func TestSpan(t *testing.T) {
	tests := []struct {
		d    time.Duration
		want string
	}{
		{0, "0 ms"}, {400 * time.Millisecond, "400 ms"}, {59 * time.Second, "59 s"}, {60 * time.Second, "1 min"},
		{190 * time.Minute, "3 h 10 min"}, {50 * time.Hour, "2 d 2 h"}, {48 * time.Hour, "2 d"}, {200*24*time.Hour + 5*time.Hour, "200 d"},
	}
	for _, tt := range tests {
		if got := Span(tt.d); got != tt.want {
			t.Errorf("Span(%v) = %q, want %q", tt.d, got, tt.want)
		}
	}
}

func TestAgo(t *testing.T) {
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		t    time.Time
		want string
	}{{time.Time{}, "never"}, {now, "just now"}, {now.Add(-14 * time.Minute), "14 min ago"}, {now.Add(2 * time.Hour), "in 2 h"}} {
		if got := Ago(tt.t, now); got != tt.want {
			t.Errorf("Ago(%v) = %q, want %q", tt.t, got, tt.want)
		}
	}
}

// TestTheHourThatHappensTwice tells both 01:30 of the end of summer time
// apart. The rule (2026-11-01 02:00 local) is that of the IANA zone
// America/Chicago.
func TestTheHourThatHappensTwice(t *testing.T) {
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	z := Zone{chicago}
	first := time.Date(2026, 11, 1, 6, 30, 0, 0, time.UTC)
	if got, want := z.Full(first), "2026-11-01 01:30:00 −05:00"; got != want {
		t.Errorf("first = %q, want %q", got, want)
	}
	if got, want := z.Full(first.Add(time.Hour)), "2026-11-01 01:30:00 −06:00"; got != want {
		t.Errorf("second = %q, want %q", got, want)
	}
	if got := z.Full(time.Time{}); got != "never" {
		t.Errorf("zero time = %q", got)
	}
}

func TestShortNamesAnotherDay(t *testing.T) {
	z, now := Zone{time.UTC}, time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	if got := z.Short(now.Add(-time.Hour), now); got != "13:00:00" {
		t.Errorf("today = %q", got)
	}
	if got := z.Short(now.Add(-24*time.Hour), now); got != "2026-11-24 14:00" {
		t.Errorf("yesterday = %q", got)
	}
}

func TestBetweenDatesBothEnds(t *testing.T) {
	z, now := Zone{time.UTC}, time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	for _, r := range []struct {
		from, to time.Time
		want     string
	}{
		{now.Add(-2 * time.Hour), now.Add(-time.Hour), "12:00:00 – 13:00:00"},
		{now.Add(-50 * time.Hour), now.Add(-49 * time.Hour), "2026-11-23 12:00 – 13:00"},
		{now.Add(-50 * time.Hour), now.Add(-time.Hour), "2026-11-23 12:00 – 2026-11-25 13:00"},
		{now.Add(-time.Hour), now.Add(-time.Hour), "13:00:00"},
		{now.Add(-time.Hour), time.Time{}, "13:00:00"},
	} {
		if got := z.Between(r.from, r.to, now); got != r.want {
			t.Errorf("%v to %v = %q, want %q", r.from, r.to, got, r.want)
		}
	}
}
