// Package notify tells people outside about findings that became alerts.
//
// A message goes into an outbox in the store before anything is sent, so a
// killed process neither loses nor doubles it: one delivery for each message
// and route, tried again with growing pauses until the receiver takes it or
// the message is too old to matter.
package notify

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"time"

	"bridlewatch/compare/cause"
)

// Schema names the form of Message; a change that breaks readers gets a new
// number.
const Schema = "bridlewatch.alert/1"

// Event says what happened to the finding.
type Event string

// Events.
const (
	Raised  Event = "raised"  // it became an alert
	Cleared Event = "cleared" // it is over
	Trial   Event = "trial"   // somebody tries the route
)

// Message is one alert as it leaves the box.
type Message struct {
	Schema    string         `json:"schema"`
	ID        string         `json:"id"` // same for every delivery of the same event
	Event     Event          `json:"event"`
	Time      time.Time      `json:"time"`
	Site      string         `json:"site"`
	Box       string         `json:"box"`
	Gauge     string         `json:"gauge"`
	Service   string         `json:"service,omitempty"`
	Area      string         `json:"area,omitempty"`
	Sentence  string         `json:"sentence"`
	Next      string         `json:"next,omitempty"`
	Suspect   cause.Suspect  `json:"suspect"`
	Tag       string         `json:"tag,omitempty"`
	Cause     cause.Cause    `json:"cause"`
	Since     time.Time      `json:"since"`
	ValueMM   float64        `json:"value_mm"`
	BudgetMM  float64        `json:"budget_mm"`
	Set       []cause.Ranked `json:"set,omitempty"`
	Evidence  []string       `json:"evidence,omitempty"`
	Link      string         `json:"link,omitempty"`
	Rehearsal bool           `json:"rehearsal,omitempty"` // not the plant
}

// Origin is what every message of a box has in common.
type Origin struct {
	Site, Box   string
	ExternalURL string // begins every link; empty: no links
	Rehearsal   bool
}

// MessageOf makes the message of a finding.
func MessageOf(o Origin, e Event, at time.Time, service, area string, f cause.Finding) Message {
	m := Message{
		Schema: Schema, Event: e, Time: at, Site: o.Site, Box: o.Box, Gauge: f.Gauge, Service: service, Area: area,
		Sentence: f.Sentence, Next: f.Next, Suspect: f.Suspect, Tag: f.Tag, Cause: f.Cause, Since: f.Since,
		ValueMM: f.Value.Millimetres(), BudgetMM: f.Budget.Millimetres(), Set: f.Set, Rehearsal: o.Rehearsal,
	}
	for _, ev := range f.Evidence {
		m.Evidence = append(m.Evidence, ev.Sentence)
	}
	if o.ExternalURL != "" {
		m.Link = o.ExternalURL + "/gauge/" + f.Gauge
	}
	sum := sha256.Sum256([]byte(o.Site + "\x00" + o.Box + "\x00" + f.ID + "\x00" + string(e)))
	m.ID = hex.EncodeToString(sum[:12])
	return m
}

// Route is one way out.
type Route interface {
	Name() string
	// Send delivers a message. again says whether it makes sense to try again.
	Send(ctx context.Context, m Message) (again bool, err error)
}
