// Package times writes instants and spans for people: always in the zone of
// the plant, always with the offset where an hour could be meant twice.
package times

import (
	"fmt"
	"strings"
	"time"
)

// Zone writes times in one zone.
type Zone struct{ Location *time.Location }

// Full writes date, time and offset: "2026-11-25 08:05:00 −06:00".
func (z Zone) Full(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	return minus(t.In(z.Location).Format("2006-01-02 15:04:05 -07:00"))
}

// Short writes the time of day with seconds, with the date when it is not the
// day of now.
func (z Zone) Short(t, now time.Time) string {
	if t.IsZero() {
		return "never"
	}
	t, now = t.In(z.Location), now.In(z.Location)
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04:05")
	}
	return t.Format("2006-01-02 15:04")
}

// Between writes a span of time as Short does. A date at its beginning has one at
// its end: a time alone would be of that day.
func (z Zone) Between(from, to, now time.Time) string {
	if to.IsZero() || to.Equal(from) {
		return z.Short(from, now)
	}
	if start := z.Short(from, now); len(start) == len(time.TimeOnly) {
		return start + " – " + z.Short(to, now)
	}
	from, to = from.In(z.Location), to.In(z.Location)
	end := "2006-01-02 15:04"
	if from.YearDay() == to.YearDay() && from.Year() == to.Year() {
		end = "15:04"
	}
	return from.Format("2006-01-02 15:04") + " – " + to.Format(end)
}

// Machine writes RFC 3339 with the offset of the zone.
func (z Zone) Machine(t time.Time) string { return t.In(z.Location).Format(time.RFC3339) }

// Ago writes how long before now t was: "14 min ago".
func Ago(t, now time.Time) string {
	switch d := now.Sub(t); {
	case t.IsZero():
		return "never"
	case d < -time.Second:
		return "in " + Span(-d)
	case d < time.Second:
		return "just now"
	default:
		return Span(d) + " ago"
	}
}

// Span writes a duration with its two leading units: "3 h 10 min", "4 d 2 h".
func Span(d time.Duration) string {
	parts := []struct {
		unit time.Duration
		name string
	}{{24 * time.Hour, "d"}, {time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}}
	if d > 0 && d < time.Millisecond {
		return "under 1 ms"
	}
	if d < time.Second {
		return fmt.Sprintf("%d ms", d.Milliseconds())
	}
	for i, p := range parts {
		if d < p.unit {
			continue
		}
		text := fmt.Sprintf("%d %s", d/p.unit, p.name)
		if i+1 < len(parts) && d/p.unit < 100 {
			if rest := d % p.unit / parts[i+1].unit; rest > 0 {
				text += fmt.Sprintf(" %d %s", rest, parts[i+1].name)
			}
		}
		return text
	}
	return "0 s"
}

func minus(s string) string {
	at := strings.LastIndexByte(s, '-')
	if at < 0 || at < len(s)-6 {
		return s
	}
	return s[:at] + "\u2212" + s[at+1:]
}
