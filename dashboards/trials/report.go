package trials

import (
	"fmt"
	"time"
)

// Report is what the trials of one gauge showed.
type Report struct {
	Gauge     string    `json:"gauge"`
	From      time.Time `json:"from"`
	To        time.Time `json:"to"`
	Snapshots int       `json:"snapshots"`
	Seed      uint64    `json:"seed"`
	Watch     float64   `json:"watch_hours"`
	Own       []Own     `json:"own_alerts"` // what the history itself raises
	OwnPer    float64   `json:"own_alerts_per_year"`
	LimitMM   float64   `json:"allowed_gap_mm"`
	Times     []string  `json:"times"`
	Rows      []Row     `json:"faults"`
	Trials    []Trial   `json:"trials"`
	Sentences []string  `json:"conclusions"`
	Cautions  []string  `json:"cautions"`
}

// Own is an alert the history raises without a fault put in.
type Own struct {
	Alert    time.Time `json:"alert"`
	Closed   time.Time `json:"closed,omitzero"`
	Symptom  string    `json:"symptom"`
	Blamed   string    `json:"blamed"`
	Sentence string    `json:"sentence"`
}

// Row is one fault in one size.
type Row struct {
	Fault      string         `json:"fault"` // as --fault reads it
	Kind       string         `json:"kind"`
	Instrument string         `json:"instrument,omitempty"`
	Trials     int            `json:"trials"`
	NoEffect   int            `json:"no_effect"` // trials in which it changed no reading; they count nowhere else
	Found      int            `json:"found"`
	Watch      *Delay         `json:"watch,omitempty"` // until the first finding
	Alert      *Delay         `json:"alert,omitempty"`
	Right      int            `json:"named_right"`
	InSet      int            `json:"in_the_set"`
	Outside    int            `json:"not_in_the_set"`
	Wrong      int            `json:"named_wrong"`
	Blamed     map[string]int `json:"blamed,omitempty"` // who was blamed wrongly
	Why        []string       `json:"why_not_found,omitempty"`

	Size float64 `json:"-"` // in SI, by which rows of one kind are ordered
}

// Delay is how long it took, of the trials in which it came.
type Delay struct {
	Median float64 `json:"median_hours"`
	Worst  float64 `json:"worst_hours"`
}

// Trial is one fault at one time.
type Trial struct {
	Fault   string    `json:"fault"`
	At      time.Time `json:"at"`
	Watched float64   `json:"watched_hours"` // how long, until the history raised an alert by itself or it was judged
	Changed int       `json:"changed_samples"`
	MovedMM float64   `json:"mean_change_mm"`
	Watch   *float64  `json:"watch_hours,omitempty"`
	Alert   *float64  `json:"alert_hours,omitempty"`
	Verdict Verdict   `json:"named,omitempty"`
	Blamed  string    `json:"blamed,omitempty"`
	Cause   string    `json:"cause,omitempty"`
	Said    string    `json:"sentence,omitempty"`
	Events  []Event   `json:"events"`
}

// Event is something that was said after the fault began.
type Event struct {
	After    float64 `json:"after_hours"`
	What     string  `json:"event"`
	Tier     string  `json:"tier"`
	Symptom  string  `json:"symptom"`
	Blamed   string  `json:"blamed"`
	Sentence string  `json:"sentence"`
}

// Verdict is how well the instrument was named.
type Verdict string

// Verdicts.
const (
	Right   Verdict = "right"      // the instrument is named
	InSet   Verdict = "in the set" // nothing is named, and the instrument is among what remains
	Outside Verdict = "not in set" // nothing is named, and it is not
	Wrong   Verdict = "wrong"      // another is named
)

// Days writes a length of time as a person would.
func Days(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.1f h", d.Hours())
	}
	return fmt.Sprintf("%.1f d", d.Hours()/24)
}

// Hours writes hours as a person would.
func Hours(h float64) string { return Days(time.Duration(h * float64(time.Hour))) }
