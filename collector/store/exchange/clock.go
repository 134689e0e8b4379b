package exchange

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Clock reads the column of times.
type Clock struct {
	Column string
	// Layout is "rfc3339", "epoch_s", "epoch_ms", or a layout of Go's package
	// time; empty finds out from the first row whether it is one of the three.
	Layout string
	Zone   *time.Location // of times without an offset; required for those
}

// reading of one time.
type reading struct {
	at        time.Time
	ambiguous bool // the clock showed it twice; the order of the file decided
}

var errNoSuchTime = errors.New("the clock never showed this time: it was put forward")

// clockReader reads the times of one file in their order.
type clockReader struct {
	Clock
	last time.Time
}

func (c *clockReader) read(cell string) (reading, error) {
	cell = strings.TrimSpace(cell)
	if c.Layout == "" {
		if err := c.findLayout(cell); err != nil {
			return reading{}, err
		}
	}
	var r reading
	var err error
	switch c.Layout {
	case "epoch_s", "epoch_ms":
		r.at, err = epoch(cell, c.Layout == "epoch_ms")
	case "rfc3339":
		if r.at, err = time.Parse(time.RFC3339Nano, cell); err != nil {
			r, err = c.wallClock("2006-01-02T15:04:05.999999999", cell)
		}
	default:
		r, err = c.wallClock(c.Layout, cell)
	}
	if err != nil {
		return r, err
	}
	r.at = r.at.UTC().Round(time.Microsecond)
	c.last = r.at
	return r, nil
}

func (c *clockReader) findLayout(cell string) error {
	if _, err := time.Parse(time.RFC3339Nano, cell); err == nil {
		c.Layout = "rfc3339"
		return nil
	}
	n, err := strconv.ParseFloat(cell, 64)
	switch {
	case err == nil && n > 1e8 && n < 1e10:
		c.Layout = "epoch_s"
	case err == nil && n > 1e11 && n < 1e13:
		c.Layout = "epoch_ms"
	default:
		return fmt.Errorf("%w: the time %q is neither RFC 3339 nor epoch seconds or milliseconds; give its layout and zone", ErrAsk, cell)
	}
	return nil
}

func epoch(cell string, milli bool) (time.Time, error) {
	n, err := strconv.ParseFloat(cell, 64)
	if err != nil || math.IsNaN(n) || math.Abs(n) > 1e14 {
		return time.Time{}, fmt.Errorf("%q is not an epoch time", cell)
	}
	if !milli {
		n *= 1e3
	}
	return time.UnixMicro(int64(math.Round(n * 1e3))), nil
}

// wallClock reads a time that may lack an offset. Of the two instants that a
// clock put back showed alike, the first that is after the row before is
// taken.
func (c *clockReader) wallClock(layout, cell string) (reading, error) {
	if hasOffset(layout) {
		at, err := time.Parse(layout, cell)
		return reading{at: at}, err
	}
	plain, err := time.Parse(layout, cell)
	if err != nil {
		return reading{}, err
	}
	if c.Zone == nil {
		return reading{}, fmt.Errorf("%w: the time %q has no offset; give the zone of the file", ErrAsk, cell)
	}
	at, err := time.ParseInLocation(layout, cell, c.Zone)
	if err != nil {
		return reading{}, err
	}
	wall := at.Format(layout)
	if plain.Format(layout) != wall {
		return reading{}, errNoSuchTime
	}
	first, second := at, at
	for _, shift := range []time.Duration{-time.Hour, time.Hour, -30 * time.Minute, 30 * time.Minute} {
		if other := at.Add(shift); other.Format(layout) == wall {
			first, second = earlier(at, other), later(at, other)
		}
	}
	r := reading{at: first, ambiguous: !first.Equal(second)}
	if r.ambiguous && !first.After(c.last) {
		r.at = second
	}
	return r, nil
}

func hasOffset(layout string) bool {
	return strings.Contains(layout, "Z07") || strings.Contains(layout, "-07") || strings.Contains(layout, "MST")
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
