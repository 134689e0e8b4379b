// Package stamp reads times as other systems write them.
package stamp

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Format says how times are written. The zero Format takes RFC 3339 or seconds
// since 1970.
type Format struct {
	Layout string         // "rfc3339", "epoch" (seconds), "epoch-ms", or a layout in Go's notation
	Zone   *time.Location // of times that name none; nil: UTC
}

// Parse reads a time.
func (f Format) Parse(text string) (time.Time, error) {
	text = strings.TrimSpace(text)
	zone := f.Zone
	if zone == nil {
		zone = time.UTC
	}
	switch f.Layout {
	case "":
		if t, err := time.Parse(time.RFC3339Nano, text); err == nil {
			return t, nil
		}
		if t, err := epoch(text); err == nil {
			return t, nil
		}
		return time.Time{}, fmt.Errorf("time %q is neither RFC 3339 nor epoch seconds; set time_format", text)
	case "rfc3339":
		t, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			return time.Time{}, fmt.Errorf("time %q is not RFC 3339, such as 2026-03-01T06:00:00Z; set time_format to how it is written", text)
		}
		return t, nil
	case "epoch":
		return epoch(text)
	case "epoch-ms":
		ms, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return time.Time{}, fmt.Errorf("time %q is not milliseconds since 1970", text)
		}
		return time.UnixMilli(ms).UTC(), nil
	default:
		t, err := time.ParseInLocation(f.Layout, text, zone)
		if err != nil {
			return time.Time{}, fmt.Errorf("time %q is not written as time_format says, %q", text, f.Layout)
		}
		return t, nil
	}
}

// epoch reads seconds since 1970 with an optional fraction.
func epoch(text string) (time.Time, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 1e11 {
		return time.Time{}, fmt.Errorf("time %q is not seconds since 1970", text)
	}
	whole := math.Floor(v)
	return time.Unix(int64(whole), int64(math.Round((v-whole)*1e6))*1000).UTC(), nil
}
