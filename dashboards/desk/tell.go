package desk

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
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
	if e.Tell == alert.TellEnding {
		d.remind(ctx, e)
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

// remind tells whoever keeps something quiet that it ends soon.
func (d *Desk) remind(ctx context.Context, e *alert.Entry) {
	m := notify.Message{
		Schema: notify.Schema, Event: notify.Ending, Time: e.Time, Site: d.options.Origin.Site, Box: d.options.Origin.Box, Rehearsal: d.options.Origin.Rehearsal,
		ID: notify.Identify(d.options.Origin, "ending", strconv.FormatUint(e.N, 10)), For: e.Hold.By, Sentence: d.ending(e),
		Next: "Look at what it keeps quiet, and set it again if it is still needed.",
	}
	if a, ok := d.book.Alerts[e.Alert]; ok {
		m.Gauge, m.Area, m.Service = a.Gauge, a.Area, d.service(a.Gauge)
	} else if w, ok := d.book.Windows[e.Hold.Name]; ok {
		m.Gauge, m.Area = d.place(&w)
	}
	if url := d.options.Origin.ExternalURL; url != "" {
		m.Link = strings.TrimSuffix(url, "/") + "/alerts?view=quiet"
	}
	if err := d.options.Outbox.Post(ctx, m); err != nil {
		d.options.Log.Error("reminder was not queued", "for", m.For, "error", err)
	}
}

// place is a gauge and an area a window is about, so that the routes for them
// carry what is said of it.
func (d *Desk) place(w *alert.Window) (gauge, area string) {
	if len(w.Areas) > 0 {
		area = w.Areas[0]
	}
	if len(w.Gauges) > 0 {
		gauge = w.Gauges[0]
		if known, ok := d.gauges[gauge]; ok && area == "" {
			area = known.Area
		}
	}
	return gauge, area
}

// ending says what ends when, by whom and why it was set, and what it keeps
// quiet.
func (d *Desk) ending(e *alert.Entry) string {
	what, hides := "The shelving of an alert", []string{}
	if a, ok := d.book.Alerts[e.Alert]; ok {
		what += " of " + a.Gauge
		hides = append(hides, a.Sentence)
	}
	if e.Hold.Name != "" {
		what = "The quiet window " + e.Hold.Name
		if w, ok := d.book.Windows[e.Hold.Name]; ok {
			what += " about " + w.Scope()
		}
		for _, id := range d.book.Hidden(e.Time, e.Hold.Name) {
			a := d.book.Alerts[id]
			hides = append(hides, a.Gauge+": "+words(a.Cause, string(a.Symptom)))
		}
	}
	s := fmt.Sprintf("%s ends at %s. It was set by %s (%s).", what, d.clock(e.Hold.Until), e.Hold.By, e.Hold.Why)
	if len(hides) == 0 {
		return s + " It keeps nothing quiet now."
	}
	return s + " It keeps quiet now: " + strings.Join(hides, "; ")
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
