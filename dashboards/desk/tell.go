package desk

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"bridlewatch/compare/alert"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/notify"
)

// events say how a reason to tell leaves the box.
var events = map[alert.Tell]notify.Event{
	alert.TellRaised:  notify.Raised,
	alert.TellNamed:   notify.Named,
	alert.TellEnded:   notify.Cleared,
	alert.TellResumed: notify.Raised,
}

// tell posts the message of an entry.
func (d *Desk) tell(ctx context.Context, e *alert.Entry) {
	event, tells := events[e.Tell]
	a, known := d.book.Alerts[e.Alert]
	if d.options.Outbox == nil {
		return
	}
	if !tells || !known {
		return
	}
	m := d.message(event, e.Time, &a)
	m.ID = notify.Identify(d.options.Origin, a.ID, strconv.FormatUint(e.N, 10))
	if e.Tell == alert.TellResumed {
		m.Quiet = d.wasQuiet(e.Hold)
	}
	if err := d.options.Outbox.Post(ctx, m); err != nil {
		d.options.Log.Error("alert was not queued", "gauge", a.Gauge, "error", err)
	}
}

// message writes what an alert is.
func (d *Desk) message(event notify.Event, at time.Time, a *alert.Alert) notify.Message {
	m := notify.MessageOf(d.options.Origin, event, at, d.service(a.Gauge), a.Area, d.finding(a))
	m.Alert, m.Raises, m.Category = a.ID, a.Raises, a.Category
	return m
}

// standing tells the outbox what stands, for reminders and for receivers that
// forget.
func (d *Desk) standing(ctx context.Context, now time.Time) {
	if d.options.Outbox == nil {
		return
	}
	var list []notify.Message
	for _, a := range d.book.List() {
		if _, quiet := d.book.Held(now, a.ID); !quiet && a.Present() && a.Untold == nil {
			m := d.message(notify.Raised, a.Raised, &a)
			m.ID = notify.Identify(d.options.Origin, a.ID, "standing")
			list = append(list, m)
		}
	}
	d.options.Outbox.Standing(ctx, list, func(id string) bool { return d.book.Alerts[id].State == alert.Unacknowledged })
}

// Watched posts a finding that is only watched, for the routes that want it.
func (d *Desk) Watched(ctx context.Context, e notify.Event, f cause.Finding) {
	d.mu.Lock()
	defer d.mu.Unlock()
	w := d.gauges[f.Gauge]
	if d.options.Outbox == nil || w == nil {
		return
	}
	m := notify.MessageOf(d.options.Origin, e, f.Changed, w.Service, w.Area, f)
	if err := d.options.Outbox.Post(ctx, m); err != nil {
		d.options.Log.Error("watch was not queued", "gauge", f.Gauge, "error", err)
	}
}

func (d *Desk) service(tag string) string {
	if w, ok := d.gauges[tag]; ok {
		return w.Service
	}
	return ""
}

// finding returns the newest version of what made an alert, or what the book
// remembers of it.
func (d *Desk) finding(a *alert.Alert) cause.Finding {
	for _, s := range slices.Backward(a.Findings) {
		if f, ok := d.findings[s.ID]; ok {
			return f
		}
	}
	if f, ok := d.findings[a.ID]; ok {
		return f
	}
	return cause.Finding{
		ID: a.ID, Gauge: a.Gauge, Symptom: a.Symptom, Cause: a.Cause, Suspect: a.Suspect, Tag: a.Tag, Tier: cause.Alert,
		Since: a.Since, Raised: a.Raised, Value: a.Value, Budget: a.Budget, Sentence: a.Sentence, Next: a.Next,
	}
}

// wasQuiet says why a message comes late.
func (d *Desk) wasQuiet(h *alert.Hold) string {
	if h == nil {
		return ""
	}
	s := "Was quiet"
	if !h.Until.IsZero() {
		s += " until " + d.clock(h.Until)
	}
	if h.By != "" {
		s += " by " + h.By
	}
	s += ": " + h.What
	if h.Name != "" {
		s += " " + h.Name
	}
	if h.Why != "" {
		s += fmt.Sprintf(" (%s)", h.Why)
	}
	return s + "."
}

// clock writes a time as it is read in the plant.
func (d *Desk) clock(t time.Time) string {
	if zone := d.options.Origin.Zone; zone != nil {
		t = t.In(zone)
	}
	return t.Format("2006-01-02 15:04 -07:00")
}
