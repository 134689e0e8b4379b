package shape

import (
	"math"
	"slices"

	"bridlewatch/compare/symptom"
)

// clocks are by how much a clock is off that was set to another time zone, or
// to summer time, in seconds: later first.
var clocks = [...]int64{3600, -3600, 7200, -7200, 1800, -1800}

// hours fits a reading that shows the level of an hour ago, or of an hour to
// come. Marks too far apart cannot show it. Where there is no mark of that
// other time the reading may be anywhere.
func (f *fitter) hours(k0 int) Fit {
	best := Fit{Nats: math.Inf(-1)}
	if f.p.Step > 900 || f.channel == symptom.VesselLevel || !f.moved(k0) {
		return best
	}
	for _, off := range clocks {
		j := 0
		fit := f.score(k0, float64(off), func(i int) (float64, float64) {
			wanted := (f.points[i].at / f.p.Step) - off/f.p.Step
			if i == k0 {
				j = 0
			}
			for j < len(f.points)-1 && f.points[j].at/f.p.Step < wanted {
				j++
			}
			if f.points[j].at/f.p.Step != wanted {
				return 0, 3 * freeS
			}
			return f.rests[j].mean - f.rests[i].mean, slackS
		})
		if fit.Nats -= math.Log(float64(len(clocks))); fit.Nats > best.Nats {
			best = fit
		}
	}
	return best
}

// Clock is what two channels show at the same time and at times an hour or so
// apart.
type Clock struct {
	Late  int64   // s by which the first shows what the second did; negative: early
	Now   float64 // mm by which they go apart at the same time, and ...
	Then  float64 // ... at that other time: median deviations from the median
	Marks int     // compared
}

// Off reports whether they move together at another time and not at the same.
func (c *Clock) Off() bool { return c.Late != 0 }

// Elsewhen compares two channels at other times. One that stands still, or
// moves little, is nowhere together with another.
func Elsewhen(marks []symptom.Mark, step int64, a, b symptom.Channel) Clock {
	now, _ := together(marks, step, a, b, 0)
	c := Clock{Now: now, Then: math.Inf(1)}
	if now < clockApart {
		return c
	}
	late := int64(0)
	for _, off := range clocks {
		if d, n := together(marks, step, a, b, off); n >= ClockMarks && d < c.Then {
			late, c.Then, c.Marks = off, d, n
		}
	}
	if moved := math.Min(swing(marks, a), swing(marks, b)); clockTimes*c.Then <= math.Min(now, moved) {
		c.Late = late
	}
	return c
}

// Constants of a Clock.
const (
	ClockMarks = 15   // marks at least
	clockApart = 15.0 // mm by which they go apart at the same time
	clockTimes = 5.0  // times as far as at the other
)

// together is the median deviation of a less b, taken so many seconds before,
// from its median, and of how many marks.
func together(marks []symptom.Mark, step int64, a, b symptom.Channel, before int64) (mm float64, n int) {
	var gaps []float64
	j := 0
	for i := range marks {
		wanted := marks[i].At/step - before/step
		for j < len(marks)-1 && marks[j].At/step < wanted {
			j++
		}
		x, y := float64(marks[i].Level[a]), float64(marks[j].Level[b])
		if marks[j].At/step == wanted && !math.IsNaN(x) && !math.IsNaN(y) {
			gaps = append(gaps, x-y)
		}
	}
	return deviation(gaps), len(gaps)
}

// swing is how far a channel itself goes to and fro.
func swing(marks []symptom.Mark, c symptom.Channel) float64 {
	var levels []float64
	for i := range marks {
		if x := float64(marks[i].Level[c]); !math.IsNaN(x) {
			levels = append(levels, x)
		}
	}
	return deviation(levels)
}

// deviation is the median deviation of values from their median; it sorts them.
func deviation(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	slices.Sort(values)
	middle := values[len(values)/2]
	for i := range values {
		values[i] = math.Abs(values[i] - middle)
	}
	slices.Sort(values)
	return values[len(values)/2]
}
