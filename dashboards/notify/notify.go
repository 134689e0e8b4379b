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
	"fmt"
	"net/url"
	"strings"
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
	Raised   Event = "raised"   // it became an alert
	Named    Event = "named"    // its cause was found
	Cleared  Event = "cleared"  // it is over
	Reminder Event = "reminder" // nobody has acknowledged it yet
	Watched  Event = "watched"  // it is only watched
	Trial    Event = "trial"    // somebody tries the route
	Ending   Event = "ending"   // what keeps it quiet ends soon; for who asked for that
)

// Message is one alert as it leaves the box.
type Message struct {
	Schema    string         `json:"schema" doc:"name and version of this form"`
	ID        string         `json:"id" doc:"same for every delivery of the same event"`
	Event     Event          `json:"event" enum:"raised,named,cleared,reminder,watched,trial,ending"`
	Time      time.Time      `json:"time"`
	Site      string         `json:"site"`
	Box       string         `json:"box"`
	Gauge     string         `json:"gauge" doc:"tag of the gauge"`
	Service   string         `json:"service,omitempty" doc:"what the vessel is"`
	Area      string         `json:"area,omitempty"`
	Category  string         `json:"category,omitempty" doc:"of the gauge, our assessment after the ideas of NAMUR NE 107"`
	Sentence  string         `json:"sentence" doc:"what was seen and what it means"`
	Next      string         `json:"next,omitempty" doc:"what to do"`
	Suspect   cause.Suspect  `json:"suspect"`
	Tag       string         `json:"tag,omitempty" doc:"of the instrument blamed"`
	Cause     cause.Cause    `json:"cause" doc:"unknown while undecided"`
	Since     time.Time      `json:"since" doc:"estimated onset"`
	ValueMM   float64        `json:"value_mm" doc:"size of the effect"`
	BudgetMM  float64        `json:"budget_mm" doc:"what is allowed"`
	Set       []cause.Ranked `json:"set,omitempty" doc:"causes that remain, most probable first"`
	Evidence  []string       `json:"evidence,omitempty"`
	Link      string         `json:"link,omitempty" doc:"page of the gauge"`
	Rehearsal bool           `json:"rehearsal,omitempty" doc:"not the plant"`
	Alert     string         `json:"alert,omitempty" doc:"the same in every message about one alert"`
	Raises    int            `json:"raises,omitempty" doc:"how often it was raised"`
	Quiet     string         `json:"quiet,omitempty" doc:"why the message comes late"`
	For       string         `json:"for,omitempty" doc:"who is meant, where it is one person"`
}

// Origin is what every message of a box has in common.
type Origin struct {
	Site, Box   string
	ExternalURL string // begins every link; empty: no links
	Rehearsal   bool
	Zone        *time.Location // of the plant, for times people read; nil: UTC
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
		m.Link = strings.TrimSuffix(o.ExternalURL, "/") + "/gauge/" + url.PathEscape(f.Gauge)
	}
	if o.Zone != nil {
		m.Time, m.Since = m.Time.In(o.Zone), m.Since.In(o.Zone)
	}
	m.Alert = f.ID
	m.ID = Identify(o, f.ID, string(e))
	return m
}

// Identify makes the identity of a message from what it is about. The same
// parts give the same identity after a restart, and no other box gives it.
func Identify(o Origin, parts ...string) string {
	sum := sha256.Sum256([]byte(o.Site + "\x00" + o.Box + "\x00" + strings.Join(parts, "\x00")))
	return hex.EncodeToString(sum[:12])
}

// Title says in a few words what a message is about.
func (m *Message) Title() string {
	title := map[Event]string{Raised: "Alert", Named: "Cause found", Cleared: "Over", Reminder: "Still open", Watched: "Watched", Trial: "Trial message", Ending: "Quiet ends soon"}[m.Event]
	if m.Gauge != "" {
		title += ": " + m.Gauge
	}
	if m.Service != "" {
		title += ", " + m.Service
	}
	if m.For != "" {
		title += ", for " + m.For
	}
	if m.Rehearsal {
		title = "REHEARSAL, not the plant. " + title
	}
	return title
}

// Text is the whole message for people: what was seen, why it is believed,
// what to do, where to look.
func (m *Message) Text() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("%s", m.Sentence)
	if m.Quiet != "" {
		line("%s", m.Quiet)
	}
	if m.Next != "" {
		line("\nNext: %s", strings.TrimPrefix(m.Next, "Next: "))
	}
	if m.BudgetMM != 0 {
		line("\nGap %+.1f mm, allowed ± %.1f mm.", m.ValueMM, m.BudgetMM)
	}
	if len(m.Evidence) > 0 {
		line("\nEvidence:")
		for _, e := range m.Evidence {
			line("- %s", e)
		}
	}
	if !m.Since.IsZero() {
		line("\nSince about %s.", m.Since.Format("2006-01-02 15:04 -07:00"))
	}
	if m.Link != "" {
		line("\n%s", m.Link)
	}
	line("\n%s, %s. For technicians: not an alarm and no safety function.", m.Site, m.Box)
	return b.String()
}

// Route is one way out.
type Route interface {
	Name() string
	// Send delivers a message. again says whether it makes sense to try again.
	Send(ctx context.Context, m Message) (again bool, err error)
}

// Keeper is a route whose receiver forgets an alert it does not hear of: it is
// given everything that stands, again and again.
type Keeper interface {
	Keep(ctx context.Context, standing []Message) error
	KeepEvery() time.Duration
}

// Connected is a route that holds a connection while the service runs.
type Connected interface {
	Open(ctx context.Context)
	Close()
}
