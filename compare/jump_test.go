package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/cause"
)

// Where the density is known to one per cent only, a gap of 9 mm is within what
// a change of liquid does in hours, and not within what it does in minutes.
func TestJumpWithinTheDensity(t *testing.T) {
	const shift = 9.0
	rows := map[string]struct {
		error func(s float64) float64 // mm, of seconds since commissioning
		alert bool
	}{
		"at once":  {func(float64) float64 { return shift }, true},
		"in hours": {func(s float64) float64 { return -shift * math.Expm1(-s/7200) }, false},
	}
	for name, r := range rows {
		t.Run(name, func(t *testing.T) {
			sheet := baseSheet()
			fine(&sheet)
			sheet.Fluid.RelativeU = 0.012
			p := commissioned(t, sheet, 5)
			p.run(12 * time.Hour)
			from := p.now.Sub(p.start).Seconds()
			p.transmitter = func(s, level float64) float64 { return level + r.error(s-from) }
			p.run(5 * time.Hour)
			found := p.alerts()
			if !r.alert {
				if len(found) != 0 {
					t.Errorf("alert: %s", found[0].Sentence)
				}
				return
			}
			if len(found) != 1 || found[0].Tier != cause.Alert {
				t.Fatalf("found %v", found)
			}
			if since := found[0].Since.Sub(p.start).Seconds() - from; math.Abs(since) > 1800 {
				t.Errorf("since %.0f s after the jump", since)
			}
			t.Log(found[0].Sentence)
		})
	}
}

// A zero that shifts while the baseline is still learned is announced and not
// learned as normal, on the fifth day or a minute before the baseline is known.
func TestJumpBeforeTheBaseline(t *testing.T) {
	for _, days := range []float64{5, 13.999} {
		sheet := baseSheet()
		fine(&sheet)
		p := newPlant(t, sheet, 5)
		p.step = time.Minute
		p.run(time.Duration(days * 24 * float64(time.Hour)))
		if found := p.alerts(); len(found) != 0 {
			t.Fatalf("before it: %s", found[0].Sentence)
		}
		p.transmitter = func(_, level float64) float64 { return level + 10 }
		if after, found := p.until(5 * time.Hour); !found {
			t.Errorf("after %.3f days: a shift of 10 mm was not announced within %v", days, after)
		}
	}
}
