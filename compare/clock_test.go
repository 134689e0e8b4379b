package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/cause"
)

// A clock set to another zone or to summer time shows the level of an hour ago
// or to come: on a tide that looks like a float that follows one way only or
// hangs in part of its travel, until one asks what the others showed then.
func TestClockOffByAnHour(t *testing.T) {
	for name, row := range map[string]struct {
		hours float64
		radar bool // it is the radar's clock, not the float's
		two   bool // the second transmitter is not there
	}{
		"float, late":          {1, false, false},
		"float, early":         {-1, false, false},
		"radar, early":         {-1, true, false},
		"float of two, late":   {1, false, true},
		"float, late by two":   {2, false, false},
		"radar of two, early":  {-1, true, true},
		"float of two, by two": {-2, false, true},
	} {
		t.Run(name, func(t *testing.T) {
			p := tideWell(t, 160)
			if row.two {
				p.second = func(float64, float64) float64 { return math.NaN() }
				p.run(24 * time.Hour)
			}
			from := p.now.Sub(p.start).Seconds()
			off := func(s, level float64) float64 {
				if s > from {
					return p.level(s - 3600*row.hours)
				}
				return level
			}
			if row.radar {
				p.transmitter = off
			} else {
				p.float = off
			}
			p.run(3 * 24 * time.Hour)
			named := false
			for i := range p.last.Findings {
				f := &p.last.Findings[i]
				named = named || f.Tier == cause.Alert && f.Suspect == cause.Clock && f.Cause == cause.TimeSkew
				if f.Suspect != cause.Clock && f.Suspect != cause.Signal {
					t.Errorf("%s: %s", f.Suspect, f.Sentence)
				}
			}
			if !named {
				t.Error("the clock is not named")
			}
		})
	}
}
