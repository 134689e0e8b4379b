// Package compare asks the one question bridlewatch exists for: do the float,
// the transmitter and the points of a gauge still tell the same story, and if
// not, which one is wrong and what would prove it?
//
// Evaluate is pure and deterministic: the time is an argument, the state is a
// plain value, and the same inputs give the same findings live, in a rehearsal
// and in a replay of years.
package compare

import (
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
)

// Outcome is the answer of one comparison.
type Outcome string

// Outcomes.
const (
	Agree      Outcome = "agree"
	Disagree   Outcome = "disagree"
	CannotTell Outcome = "cannot tell"
)

// Verdict is the answer for one pair with its reasons.
type Verdict struct {
	Pair    gauge.Pair
	Point   int // index of a point switch compared with the float; -1 for a pair of levels
	Outcome Outcome
	Reasons []string
}

// Category sorts gauges by what must be done. It follows the ideas of NAMUR
// NE 107 and is our assessment, not a device's own status.
type Category string

// Categories, worst first.
const (
	Failure         Category = "failure"
	FunctionCheck   Category = "function check"
	OutOfSpec       Category = "out of specification"
	MaintenanceDue  Category = "maintenance required"
	GoodCategory    Category = "good"
	NotSeenCategory Category = "not seen" // no fresh samples
)

// Result is what Evaluate says about one gauge at one instant.
type Result struct {
	Gauge       string
	Time        time.Time
	Measurement gauge.Measurement
	Verdicts    []Verdict
	Findings    []cause.Finding // open ones, worst first
	Category    Category
	Headline    string // one sentence
	Next        string // what to do; empty when nothing

	// What this evaluation changed. The slices are valid until the next one.
	Changed  bool
	Opened   []cause.Finding
	Upgraded []cause.Finding // watch became alert, or a name was first found
	Revised  []cause.Finding // another name than before; at most once an hour each
	Closed   []cause.Finding
}
