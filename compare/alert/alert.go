// Package alert keeps the states of alerts: findings somebody must look at.
//
// The states follow the ideas of ISA-18.2 and IEC 62682, applied to messages
// for technicians; no conformity with either is claimed, and these are alerts
// and never alarms. An alert is unacknowledged, acknowledged, returned and
// unacknowledged, or cleared. Apart from that it may be shelved for a time,
// suppressed by a rule of the design, or out of service; then nobody is told,
// and it goes on being evaluated and written down.
//
// A Book is a plain value. Apply folds what the comparison found, Act what
// people do, Tick the passing of time; each returns the journal entries it
// made, and folding the same entries into an empty Book gives the same Book.
// Time is an argument everywhere.
package alert

import (
	"slices"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// State says how far an alert is dealt with. The strings are stored and
// published; never change one.
type State string

// States.
const (
	Unacknowledged State = "unacknowledged"
	Acknowledged   State = "acknowledged"
	Returned       State = "returned, unacknowledged"
	Cleared        State = "cleared"
)

// Bounds of time.
const (
	LongestShelf = 30 * 24 * time.Hour  // an alert may be kept quiet for so long at once
	LongestQuiet = 180 * 24 * time.Hour // and a quiet window may last so long
	SameWithin   = 7 * 24 * time.Hour   // what comes back within this of its clearing counts as the same alert
	keepCleared  = 30 * 24 * time.Hour  // a cleared alert stays in the book
	keepComments = 50
)

// Alert is one row of the book: one cause on one gauge.
type Alert struct {
	ID       string          `json:"id"` // of the finding that raised it first
	Gauge    string          `json:"gauge"`
	Area     string          `json:"area,omitempty"`
	Category string          `json:"category,omitempty"` // of the gauge when it was raised
	Tag      string          `json:"tag,omitempty"`      // of the instrument blamed, "" while undecided
	Symptom  symptom.Kind    `json:"symptom"`
	Cause    cause.Cause     `json:"cause"`
	Suspect  cause.Suspect   `json:"suspect"`
	Sentence string          `json:"sentence"`
	Next     string          `json:"next,omitempty"`
	Value    quantity.Length `json:"value_m"`
	Budget   quantity.Length `json:"budget_m"`
	Hides    int             `json:"hides,omitempty"` // symptoms it explains

	Findings []Source `json:"findings,omitempty"` // open now, they make it present
	State    State    `json:"state"`
	Latched  bool     `json:"latched,omitempty"` // clears only after somebody was there
	Beyond   bool     `json:"beyond,omitempty"`  // a limit the user set is passed, or soon will be

	Since        time.Time `json:"since"`             // estimated onset
	Raised       time.Time `json:"raised"`            // last time
	First        time.Time `json:"first"`             // first time
	Returned     time.Time `json:"returned,omitzero"` // zero: still there
	Acknowledged time.Time `json:"acknowledged,omitzero"`
	By           string    `json:"by,omitempty"` // who acknowledged it
	Cleared      time.Time `json:"cleared,omitzero"`
	Raises       int       `json:"raises"`
	Assigned     string    `json:"assigned,omitempty"`

	Shelf        *Hold     `json:"shelf,omitempty"`
	OutOfService *Hold     `json:"out_of_service,omitempty"`
	Untold       *Hold     `json:"untold,omitempty"` // why nobody has been told; nil: somebody has
	Comments     []Comment `json:"comments,omitempty"`
}

// Source is one finding that keeps an alert present.
type Source struct {
	ID   string `json:"id"`
	Name string `json:"name"` // what the comparison called it last
}

// Hold is one reason for which an alert is kept quiet.
type Hold struct {
	What       string    `json:"what"` // "shelved", "out of service", "suppressed", "quiet window"
	Name       string    `json:"name,omitempty"`
	By         string    `json:"by,omitempty"`
	Why        string    `json:"why,omitempty"`
	From       time.Time `json:"from"`
	Until      time.Time `json:"until,omitzero"` // zero: open end
	UntilClear bool      `json:"until_clear,omitempty"`
	Reminded   time.Time `json:"reminded,omitzero"` // that it ends soon; zero: not yet
}

// remindAt is the part of a hold after which whoever asked for it is reminded
// that it ends.
const remindAt = 0.8

// remind reports whether somebody is to be reminded now that a hold ends.
func remind(now, from, until, reminded time.Time) bool {
	return reminded.IsZero() && !until.IsZero() && now.Before(until) && !now.Before(from.Add(time.Duration(remindAt*float64(until.Sub(from)))))
}

// Comment is something a person wrote.
type Comment struct {
	Time time.Time `json:"time"`
	By   string    `json:"by"`
	Text string    `json:"text"`
}

// Present reports whether what raised the alert is there now.
func (a *Alert) Present() bool { return len(a.Findings) > 0 }

// Open reports whether somebody still has something to do with the alert.
func (a *Alert) Open() bool { return a.State != Cleared }

// holds reports whether a finding keeps the alert present.
func (a *Alert) holds(finding string) bool { return a.source(finding) >= 0 }

func (a *Alert) source(finding string) int {
	return slices.IndexFunc(a.Findings, func(s Source) bool { return s.ID == finding })
}

// acked reports whether a person has seen the alert since it was raised last.
func (a *Alert) acked() bool { return !a.Acknowledged.IsZero() }

// state derives the state from what is known.
func (a *Alert) state() State {
	switch {
	case a.Present() && a.acked(), !a.Present() && a.acked() && a.Latched:
		return Acknowledged
	case a.Present():
		return Unacknowledged
	case a.acked():
		return Cleared
	}
	return Returned
}

// take copies what the comparison says now.
func (a *Alert) take(f *Finding) {
	if f.Limit {
		a.Beyond = true
	}
	if f.Limit && a.Symptom != "" { // the comparison's own name stays
		a.Sentence, a.Next, a.Value = f.Sentence, f.Next, f.Value
		return
	}
	a.Tag, a.Symptom, a.Cause, a.Suspect = f.Tag, f.Symptom, f.Cause, f.Suspect
	a.Sentence, a.Next, a.Value, a.Budget, a.Hides = f.Sentence, f.Next, f.Value, f.Budget, f.Hides
	a.Area, a.Category = f.Area, f.Category
	a.Latched = a.Latched || NeedsVisit(f.Cause)
}

// same reports whether a finding is about what the alert is about.
func (a *Alert) same(f *Finding) bool {
	if f.Limit || a.Beyond && AboutGap(f.Symptom) {
		return a.Gauge == f.Gauge && AboutGap(a.Symptom)
	}
	if a.Gauge != f.Gauge || a.Tag != f.Tag {
		return false
	}
	return a.Symptom == f.Symptom || a.Cause == f.Cause && f.Cause != cause.Unknown
}

// AboutGap reports whether a symptom is a difference of two levels without one
// of them being seen to misbehave: a limit on drift is about the same trouble.
func AboutGap(k symptom.Kind) bool {
	switch k {
	case symptom.GapBeyondBudget, symptom.GapStep, symptom.GapDrift, symptom.SpanError, symptom.DensityFollows:
		return true
	}
	return false
}

// NeedsVisit reports whether a cause is not over when its signs are: a float
// that freed itself may stick again, and nobody knows yet why it did.
func NeedsVisit(c cause.Cause) bool {
	return slices.Contains(visits, c)
}

var visits = []cause.Cause{
	cause.FloatStuck, cause.FloatPartlyStuck, cause.FloatOneWay, cause.FloatStickSlip, cause.FloatSunk, cause.FollowerDecoupled,
	cause.TransmitterFrozen, cause.PointFailed, cause.LowerPlug, cause.UpperPlug, cause.LegEmpty, cause.LegPlugged,
}
