package trial

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"bridlewatch/dashboards/trials"
)

// span is a stretch of history, its end not included.
type span struct{ from, to time.Time }

// rest is how long the history must have been quiet again.
const rest = 24 * time.Hour

// NoPlaceError says that a history has no place for a trial.
type NoPlaceError struct {
	Gauge         string
	From, To      time.Time     // of the history
	Before, After time.Duration // what a trial needs
}

func (e *NoPlaceError) Error() string {
	return fmt.Sprintf("gauge %s: nowhere in the history from %s to %s are %s of learning followed by %s without an alert of its own", e.Gauge,
		e.From.Format(time.RFC3339), e.To.Format(time.RFC3339), trials.Days(e.Before), trials.Days(e.After))
}

// chooseTimes finds when the faults begin: the times asked for, or times
// spread by chance over the parts of history that are quiet, with enough
// before and after.
func chooseTimes(o *Options, w *own) ([]time.Time, error) {
	if len(o.At) > 0 {
		for _, at := range o.At {
			if err := checkTime(o, w, at); err != nil {
				return nil, err
			}
		}
		times := slices.Clone(o.At)
		slices.SortFunc(times, time.Time.Compare)
		return slices.CompactFunc(times, time.Time.Equal), nil
	}
	spans := quietSpans(w, o.Before, o.Watch/leastWatch)
	var total time.Duration
	for _, s := range spans {
		total += s.to.Sub(s.from)
	}
	if total <= 0 {
		return nil, &NoPlaceError{o.Gauge.Sheet.Tag, w.from, w.to, o.Before, o.Watch / leastWatch}
	}
	random := rand.New(rand.NewPCG(o.Seed, 0x7469_6d65_73))
	times := make([]time.Time, o.Times)
	for k := range times {
		share := (float64(k) + random.Float64()) / float64(o.Times)
		times[k] = within(spans, time.Duration(share*float64(total))).Truncate(time.Second)
	}
	return slices.CompactFunc(times, time.Time.Equal), nil
}

// checkTime refuses a time at which nothing can be tried.
func checkTime(o *Options, w *own, at time.Time) error {
	if at.Before(w.from) || !at.Before(w.to) {
		return fmt.Errorf("%s is outside of the history, which goes from %s to %s", at.Format(time.RFC3339), w.from.Format(time.RFC3339), w.to.Format(time.RFC3339))
	}
	for i := range w.findings.List {
		if e := &w.findings.List[i]; disturbs(e) && !e.Raised.After(at) && e.Lasts(at) {
			return fmt.Errorf("%s: the history has an alert of its own there, since %s (%s); choose a time when it is quiet", at.Format(time.RFC3339), e.Raised.Format(time.RFC3339), blamed(e.Suspect, e.Tag))
		}
	}
	return nil
}

// quietSpans are the times with before of history in front of them and after
// of it behind, without an alert of the history's own and without a hole.
func quietSpans(w *own, before, after time.Duration) []span {
	spans := []span{{w.from.Add(before), w.to.Add(-after)}}
	for i := range w.findings.List {
		e := &w.findings.List[i]
		if !disturbs(e) {
			continue
		}
		until := w.to
		if !e.Closed.IsZero() {
			until = e.Closed.Add(rest)
		}
		spans = without(spans, span{e.Raised.Add(-after), until})
	}
	for _, g := range w.gaps {
		spans = without(spans, span{g[0].Add(-after), g[1].Add(rest)})
	}
	return slices.DeleteFunc(spans, func(s span) bool { return !s.from.Before(s.to) })
}

// without takes a stretch out of others.
func without(spans []span, cut span) []span {
	var left []span
	for _, s := range spans {
		if !cut.from.Before(s.to) || !cut.to.After(s.from) {
			left = append(left, s)
			continue
		}
		if s.from.Before(cut.from) {
			left = append(left, span{s.from, cut.from})
		}
		if cut.to.Before(s.to) {
			left = append(left, span{cut.to, s.to})
		}
	}
	return left
}

// within is the time so far into the stretches laid end to end.
func within(spans []span, far time.Duration) time.Time {
	for _, s := range spans {
		if d := s.to.Sub(s.from); far < d {
			return s.from.Add(far)
		} else {
			far -= d
		}
	}
	return spans[len(spans)-1].to
}
