package config

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// pieces of time, longest first. A year is 365 days.
var timeUnits = []struct {
	names []string
	d     time.Duration
}{
	{[]string{"years", "year", "a"}, 365 * 24 * time.Hour},
	{[]string{"weeks", "week"}, 7 * 24 * time.Hour},
	{[]string{"days", "day", "d"}, 24 * time.Hour},
	{[]string{"h", "hours", "hour"}, time.Hour},
	{[]string{"min", "minutes", "minute", "m"}, time.Minute},
	{[]string{"s", "seconds", "second"}, time.Second},
	{[]string{"ms"}, time.Millisecond},
}

func noDuration(s string) error {
	return fmt.Errorf(`%q is no duration: a number with its unit, "250 ms", "10 s", "5 min", "3 h", "400 days", "10 years"`, s)
}

// duration is a length of time between two bounds, both included. "for ever"
// is 0 where the bound allows it.
func duration(low, high time.Duration) format[time.Duration] {
	return format[time.Duration]{
		name:  fmt.Sprintf("duration, %s to %s", printDuration(low), printDuration(high)),
		types: []string{"string"},
		read: func(_ *decoder, s string) (time.Duration, error) {
			v, err := readDuration(s)
			if err != nil {
				return 0, err
			}
			if v < low || v > high {
				return 0, fmt.Errorf("%s is outside %s to %s", s, printDuration(low), printDuration(high))
			}
			return v, nil
		},
		print: func(v time.Duration) any { return printDuration(v) },
	}
}

// keep is how long history is kept: a duration of so many days, or "for ever".
func keep(days int) format[time.Duration] {
	f := duration(time.Duration(days)*24*time.Hour, 200*365*24*time.Hour)
	f.name = `duration, at least 1 day, or "for ever"`
	if days > 1 {
		f.name = fmt.Sprintf(`duration, at least %d days, or "for ever"`, days)
	}
	bounded := f.read
	f.read = func(d *decoder, s string) (time.Duration, error) {
		if s == "for ever" {
			return 0, nil
		}
		return bounded(d, s)
	}
	f.print = func(v time.Duration) any {
		if v == 0 {
			return "for ever"
		}
		return printDuration(v)
	}
	return f
}

func readDuration(s string) (time.Duration, error) {
	end := strings.LastIndexAny(s, "0123456789.")
	if end < 0 {
		return 0, noDuration(s)
	}
	if d, err := time.ParseDuration(s); err == nil && s != "0" {
		return d, nil // also "1h30m"
	}
	v, err := readNumber(s[:end+1])
	if err != nil {
		return 0, noDuration(s)
	}
	unit := strings.TrimSpace(s[end+1:])
	for _, u := range timeUnits {
		for _, name := range u.names {
			if unit != name {
				continue
			}
			if v*float64(u.d) > float64(math.MaxInt64)/2 {
				return 0, fmt.Errorf("%q is longer than a duration can be", s)
			}
			return time.Duration(math.Round(v * float64(u.d))), nil
		}
	}
	return 0, noDuration(s)
}

// printDuration writes a duration in the longest unit it is a whole number of.
func printDuration(d time.Duration) string {
	if d == 0 {
		return "0 s"
	}
	for _, u := range timeUnits {
		if n := d / u.d; d%u.d == 0 {
			name := u.names[0]
			if n == 1 && strings.HasSuffix(name, "s") && len(name) > 2 {
				name = u.names[1]
			}
			return fmt.Sprintf("%d %s", n, name)
		}
	}
	return d.String()
}

// zone is a time zone of the tz database.
func zone() format[*time.Location] {
	return format[*time.Location]{
		name:  "time zone of the tz database, for example Europe/Lisbon",
		types: []string{"string"},
		read: func(_ *decoder, s string) (*time.Location, error) {
			if s == "Local" {
				return nil, errors.New(`"Local" depends on the box: name the zone, for example "UTC" or "Europe/Lisbon"`)
			}
			l, err := time.LoadLocation(s)
			if err != nil {
				return nil, fmt.Errorf("%q is not a time zone of the tz database: write a place such as Europe/Lisbon, or UTC", s)
			}
			return l, nil
		},
		print: func(l *time.Location) any {
			if l == nil {
				return ""
			}
			return l.String()
		},
	}
}

// instant is a point in time, RFC 3339.
func instant() format[time.Time] {
	return format[time.Time]{
		name:  "time with offset (RFC 3339), for example 2026-05-04T06:00:00+02:00",
		types: []string{"string"},
		read: func(_ *decoder, s string) (time.Time, error) {
			t, err := time.Parse(time.RFC3339, s)
			if err != nil {
				return t, fmt.Errorf("%q is not a time with offset such as 2026-05-04T06:00:00+02:00", s)
			}
			return t, nil
		},
		print: func(t time.Time) any { return t.Format(time.RFC3339) },
	}
}

// seconds and days read a duration into the plain number a data sheet keeps.
func seconds() format[float64] {
	return format[float64]{
		name:  "duration, for example 30 s",
		types: []string{"string"},
		read: func(_ *decoder, s string) (float64, error) {
			v, err := readDuration(s)
			return v.Seconds(), err
		},
		print: func(v float64) any { return short(v) + " s" },
	}
}

func days() format[int] {
	return format[int]{
		name:  "duration in whole days, for example 180 days",
		types: []string{"string"},
		read: func(_ *decoder, s string) (int, error) {
			v, err := readDuration(s)
			n := v.Hours() / 24
			if err == nil && (n < 1 || n != math.Trunc(n)) {
				err = fmt.Errorf("%q is no number of whole days, such as 180 days", s)
			}
			return int(n), err
		},
		print: func(v int) any { return short(float64(v)) + " days" },
	}
}
