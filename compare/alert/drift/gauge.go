package drift

import (
	"fmt"
	"math"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// Gauge watches every pair of one gauge.
type Gauge struct {
	Pairs [gauge.Pairs]State `json:"pairs"`
	Told  [gauge.Pairs]bool  `json:"told"` // a finding is open

	// Shift moves the end of this gauge's days, seconds before midnight UTC, so
	// that a thousand gauges do not all work at once.
	Shift int64 `json:"shift"`
}

// Change is a finding about drift that was opened or closed.
type Change struct {
	What    string // "opened", "closed"
	Finding cause.Finding
}

// Add folds the gaps of one comparison. limit is the drift that is allowed.
// explained says that the comparison has seen one of the levels misbehave: a
// float that is stuck drifts from everything, and the limit says nothing new.
// It does not allocate while no day is finished.
func (g *Gauge) Add(now time.Time, tag string, m *gauge.Measurement, limit quantity.Length, explained bool) (changes []Change) {
	if m.Isolated || limit <= 0 {
		return nil
	}
	for p := range gauge.Pairs {
		gap := &m.Gaps[p]
		if !gap.OK {
			continue
		}
		s := &g.Pairs[p]
		if !s.Add(now.Unix()+g.Shift, gap.Value.Millimetres(), limit.Millimetres()) {
			continue
		}
		switch open := s.Alert && !explained; {
		case open && !g.Told[p]:
			g.Told[p] = true
			changes = append(changes, Change{"opened", s.finding(tag, p, now, gap.Budget)})
		case !s.Alert && g.Told[p]:
			g.Told[p] = false
			f := s.finding(tag, p, now, gap.Budget)
			f.Cleared = now
			changes = append(changes, Change{"closed", f})
		}
	}
	return changes
}

// Rebase begins every pair anew, as after a calibration, and closes what was
// open.
func (g *Gauge) Rebase(now time.Time, tag string) (changes []Change) {
	for p := range gauge.Pairs {
		s := &g.Pairs[p]
		if g.Told[p] {
			f := s.finding(tag, p, now, 0)
			f.Cleared = now
			changes = append(changes, Change{"closed", f})
		}
		g.Told[p] = false
		s.Rebase()
	}
	return changes
}

// Open returns the findings that are open.
func (g *Gauge) Open(now time.Time, tag string) (open []cause.Finding) {
	for p := range gauge.Pairs {
		if g.Told[p] {
			open = append(open, g.Pairs[p].finding(tag, p, now, 0))
		}
	}
	return open
}

func (s *State) finding(tag string, p gauge.Pair, now time.Time, budget quantity.Length) cause.Finding {
	e := &s.Estimate
	return cause.Finding{
		ID: fmt.Sprintf("%s-drift-%d-%d", tag, p, s.Serial), Gauge: tag, Symptom: symptom.GapDrift, Cause: cause.Unknown, Suspect: cause.Undecided,
		Tier: cause.Alert, Since: s.Since, Raised: s.Raised, Changed: now, Value: length(e.Drift), Budget: budget, RatePerD: length(e.Rate),
		Sentence: e.Sentence(p), Next: "Compare both with a sight of the level or a drain to a known point, then zero the one that is off.",
		Evidence: []cause.Evidence{{From: s.Since, To: now, Sentence: e.ledger(p), Excitation: fmt.Sprintf("%d days", e.Days),
			Numbers: map[string]float64{"drift_mm": e.Drift, "u_mm": e.U, "rate_mm_per_day": e.Rate, "low_mm_per_day": e.Low, "high_mm_per_day": e.High, "limit_mm": e.Limit}}},
	}
}

func length(mm float64) quantity.Length { return quantity.Length(mm) * quantity.Millimetre }

// Sentence says what was seen, what it means and when the limit is reached.
func (e *Estimate) Sentence(p gauge.Pair) string {
	s := fmt.Sprintf("The gap %s has drifted by %+.1f mm ± %.1f mm; %.0f mm are allowed.", p, e.Drift, e.U, e.Limit)
	switch {
	case !e.Significant:
		return s + " It is not moving now."
	case e.ToLimit == 0:
		return s + fmt.Sprintf(" It goes on by %+.2f mm a day.", e.Rate)
	case e.Latest == 0:
		return s + fmt.Sprintf(" At %+.2f mm a day the limit is reached in about %s.", e.Rate, inDays(e.ToLimit))
	}
	return s + fmt.Sprintf(" At %+.2f mm a day the limit is reached in about %s, between %s and %s.", e.Rate, inDays(e.ToLimit), inDays(e.Earliest), inDays(e.Latest))
}

func (e *Estimate) ledger(p gauge.Pair) string {
	return fmt.Sprintf("Daily medians of the gap %s over %d days: %+.2f mm a day, 95 %% between %+.2f and %+.2f; the newest days are %+.1f mm ± %.1f mm (95 %%) off the reference week.",
		p, e.Days, e.Rate, e.Low, e.High, e.Drift, e.U)
}

func inDays(d float64) string {
	if n := math.Round(d); n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%.0f days", d)
}
