// Package drift says when two levels that ought to agree come apart slowly:
// by how much since they were known to be right, how fast, and how long until
// the limit of the data sheet.
//
// A day is worth one number, the median of its hourly means of the gap, so
// that moves of the level and single readings do not matter. The first week is
// the reference, the first four weeks teach how far days scatter and how much
// one remembers of the day before. The drift is the newest days against the
// reference; the rate is the robust slope of package trendline over the newest
// two, four or thirteen weeks, whichever says most. Their uncertainties are
// those of an autoregression of order one with the scatter and memory learned,
// so that a drift that began within a span does not hide itself.
//
// An alert rests on the drift less its uncertainty, or on a significant rate
// that reaches the limit soon.
//
// State is a plain value and time is an argument.
package drift

import (
	"math"
	"slices"
	"time"

	"bridlewatch/compare/trendline"
)

// Constants of the method. They are our choices; tests show what they give.
const (
	week         = 7    // days in the reference
	newest       = 3    // days in the newest estimate
	learning     = 28   // days that teach what days do
	leastDays    = 14   // days before a rate is believed
	leastHours   = 6    // hours with a gap that make a day
	significant  = 4.0  // a rate over its standard uncertainty
	soonDays     = 14.0 // an alert when the limit is reached within this
	aheadDays    = 60.0 // a watch when within this
	confirmDays  = 2    // days in a row
	backOff      = 0.8  // an alert ends below this part of the limit
	z95          = 1.96
	flooredMM    = 0.5 // least standard deviation of a day's median, mm
	secondsHour  = 3600
	secondsDay   = 86400
	medianFactor = 1.2533 // standard error of a median over that of a mean, normal scatter
	madFactor    = 1.4826 // median absolute deviation to standard deviation
	usualMemory  = 0.6    // correlation of a day with the day before, until it is learned
	leastMemory  = 0.5    // four weeks tell little about it: rather more than less
	mostMemory   = 0.9
)

// spans are the days a rate is looked for in.
var spans = [...]int{14, 28, trendline.MaxPoints}

// State is what is remembered of one pair. The zero value begins with the
// next gap.
type State struct {
	Hour  int64     `json:"hour"` // Unix hours
	Sum   float64   `json:"sum"`  // mm, of the running hour
	N     float64   `json:"n"`
	Hours []float64 `json:"hours,omitempty"` // mm, of the running day
	Days  []Day     `json:"days,omitempty"`  // oldest first, at most trendline.MaxPoints

	Reference float64 `json:"reference_mm"` // median of the reference week
	Referred  bool    `json:"referred"`
	Scatter   float64 `json:"scatter_mm"` // of a day, learned; 0: not yet
	Memory    float64 `json:"memory"`     // correlation of a day with the day before

	Over   int       `json:"over"` // days in a row that ask for an alert, negative: that do not
	Alert  bool      `json:"alert"`
	Since  time.Time `json:"since,omitzero"` // of the alert or watch
	Raised time.Time `json:"raised,omitzero"`
	Serial int       `json:"serial"`
	Watch  bool      `json:"watch"`

	Estimate Estimate `json:"estimate"` // newest
}

// Day is one day of a pair.
type Day struct {
	Day int64   `json:"day"` // Unix days
	Gap float64 `json:"gap_mm"`
}

// Estimate is what is known of a drift. Lengths are millimetres, U and the
// interval of the rate at 95 %.
type Estimate struct {
	OK          bool    `json:"ok"`
	Drift       float64 `json:"drift_mm"`
	U           float64 `json:"u_mm"`
	Rate        float64 `json:"rate_mm_per_day"`
	Low         float64 `json:"low_mm_per_day"`
	High        float64 `json:"high_mm_per_day"`
	Significant bool    `json:"significant"`
	Days        int     `json:"days"`

	ToLimit  float64 `json:"to_limit_days,omitempty"` // while the rate is significant; 0: there, or not moving
	Earliest float64 `json:"earliest_days,omitempty"`
	Latest   float64 `json:"latest_days,omitempty"` // 0: not by the slow end of the interval
	Limit    float64 `json:"limit_mm"`
}

// Add folds one gap in millimetres at a Unix time. It reports whether a day
// was finished, which is when the estimate was renewed.
func (s *State) Add(at int64, gap, limit float64) bool {
	hour := at / secondsHour
	if hour < s.Hour {
		return false // the clock of the source went back
	}
	if hour == s.Hour || s.N == 0 && s.Hour == 0 {
		s.Hour, s.Sum, s.N = hour, s.Sum+gap, s.N+1
		return false
	}
	s.Hours = append(s.Hours, s.Sum/s.N)
	day, last := hour*secondsHour/secondsDay, s.Hour*secondsHour/secondsDay
	s.Hour, s.Sum, s.N = hour, gap, 1
	if day == last {
		return false
	}
	finished := len(s.Hours) >= leastHours
	if finished {
		s.close(last)
	}
	s.Hours = s.Hours[:0]
	if finished {
		s.estimate(limit)
		s.judge(at, limit)
	}
	return finished
}

// Rebase forgets what was normal, as after a calibration: the next week is
// the new reference. An alert ends.
func (s *State) Rebase() {
	*s = State{Serial: s.Serial}
}

func (s *State) close(day int64) {
	if len(s.Days) == trendline.MaxPoints {
		s.Days = slices.Delete(s.Days, 0, 1)
	}
	s.Days = append(s.Days, Day{day, middle(s.Hours)})
	if !s.Referred && len(s.Days) == week {
		s.Reference, s.Referred = s.newestDays(week), true
	}
	if s.Scatter == 0 && len(s.Days) == learning {
		s.learn()
	}
}

// newestDays returns the median of the newest n days.
func (s *State) newestDays(n int) float64 {
	values := make([]float64, 0, week)
	for _, d := range s.Days[max(0, len(s.Days)-n):] {
		values = append(values, d.Gap)
	}
	return middle(values)
}

// judge raises and ends watch and alert.
func (s *State) judge(at int64, limit float64) {
	e := &s.Estimate
	beyond := e.OK && math.Abs(e.Drift)-e.U > limit
	switch {
	case beyond || e.nears(soonDays):
		s.Over = max(1, s.Over+1)
	case s.calm(limit):
		s.Over = min(-1, s.Over-1)
	default:
		s.Over = 0
	}
	s.Watch = e.nears(aheadDays)
	if !s.Alert && s.Over >= confirmDays {
		s.Alert, s.Raised = true, time.Unix(at, 0).UTC()
		s.Since = time.Unix(s.Days[0].Day*secondsDay, 0).UTC()
		s.Serial++
	}
	if s.Alert && s.Over <= -confirmDays {
		s.Alert, s.Since, s.Raised = false, time.Time{}, time.Time{}
	}
}

// nears reports whether the drift goes on away from the reference and reaches
// the limit within so many days.
func (e *Estimate) nears(days float64) bool {
	return e.OK && e.Significant && e.ToLimit <= days && math.Abs(e.Drift) > e.U && e.Rate*e.Drift > 0
}

// calm reports whether nothing speaks for a drift any more.
func (s *State) calm(limit float64) bool {
	e := &s.Estimate
	return math.Abs(e.Drift) < backOff*limit && !e.nears(2*soonDays)
}

// middle returns the median, 0 of none. The order of v is kept.
func middle(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	sorted := slices.Clone(v)
	slices.Sort(sorted)
	n := len(sorted)
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}
