package watch

import (
	"fmt"
	"slices"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/dashboards"
)

// The pages ask a Watch through the interface of the dashboards.
var _ dashboards.Plant = (*Watch)(nil)

// Gauges returns every gauge in the order of the configuration.
func (w *Watch) Gauges() []dashboards.GaugeView {
	w.mu.RLock()
	defer w.mu.RUnlock()
	return slices.Clone(w.views)
}

// Gauge returns one gauge.
func (w *Watch) Gauge(tag string) (dashboards.GaugeView, bool) {
	i, ok := w.index[tag]
	if !ok {
		return dashboards.GaugeView{}, false
	}
	w.mu.RLock()
	defer w.mu.RUnlock()
	return w.views[i], true
}

// Now is the time of the last snapshot: simulated in a rehearsal.
func (w *Watch) Now() time.Time {
	w.mu.RLock()
	defer w.mu.RUnlock()
	return w.now
}

// Explain returns the ledger of evidence of a gauge, and with it the delays
// that are taken off the stamps of its signals.
func (w *Watch) Explain(tag string) []cause.Evidence {
	return ask(w, tag, func(u *unit) []cause.Evidence {
		lines := u.gauge.Explain(&u.state)
		if len(lines) == 0 {
			return lines
		}
		return append(lines, u.delayed(lines)...)
	})
}

// delayed says which signals are compared as of an earlier time than their
// stamp, over the time of the evidence.
func (u *unit) delayed(lines []cause.Evidence) (said []cause.Evidence) {
	from, to := lines[0].From, lines[0].To
	for _, e := range lines {
		if e.From.Before(from) {
			from = e.From
		}
		if e.To.After(to) {
			to = e.To
		}
	}
	for i := range u.config.Signals {
		if s := &u.config.Signals[i]; s.Delay > 0 {
			said = append(said, cause.Evidence{From: from, To: to,
				Sentence: fmt.Sprintf("%s is compared as of %.0f s before its stamp: the delay configured.", s.Tag, s.Delay.Seconds())})
		}
	}
	return said
}

// Settle returns the tests that would split the causes that remain.
func (w *Watch) Settle(tag string) []cause.Test {
	return ask(w, tag, func(u *unit) []cause.Test { return u.gauge.Settle(&u.state) })
}

// Blind returns what the instruments of a gauge cannot see.
func (w *Watch) Blind(tag string) []coverage.BlindSpot {
	now := w.Now()
	return ask(w, tag, func(u *unit) []coverage.BlindSpot { return u.gauge.Blind(now, &u.state) })
}

// Proven returns when each instrument was last proven, by elevation.
func (w *Watch) Proven(tag string) []coverage.Proof {
	return ask(w, tag, func(u *unit) []coverage.Proof { return u.gauge.Proven(&u.state) })
}

// ask asks a unit between two cycles. The answer must not share memory with
// the unit's state.
func ask[T any](w *Watch, tag string, question func(*unit) []T) []T {
	i, ok := w.index[tag]
	if !ok {
		return nil
	}
	w.units[i].mu.Lock()
	defer w.units[i].mu.Unlock()
	return question(w.units[i])
}

// Health tells how the service is.
func (w *Watch) Health() dashboards.Health {
	h := dashboards.Health{Site: w.config.Site.Name, Box: w.config.Site.Box, Now: time.Now(), ConfigVersion: w.config.Version}
	w.mu.RLock()
	h.Scan = dashboards.ScanHealth{Every: w.config.Service.ScanEvery, Last: w.now, Took: w.took, Scans: w.scans}
	if w.fault != "" {
		h.Notices = append(h.Notices, w.fault)
		h.Store.Error = w.fault
	}
	if w.wait != "" {
		h.Notices = append(h.Notices, w.wait)
	}
	w.mu.RUnlock()
	if w.options.Health != nil {
		w.options.Health(&h)
	}
	return h
}
