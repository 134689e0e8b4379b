package alert

import (
	"slices"
	"time"
)

// Fold makes what an entry says true. Entries must come in the order of their
// numbers; one that was folded before changes nothing, so that reading a
// journal again is harmless.
func (b *Book) Fold(e Entry) {
	if e.N <= b.N {
		return
	}
	b.N = e.N
	switch e.What {
	case WasSuppressed, WasUnsuppressed:
		b.foldRule(&e)
	case WindowAdded, WindowEnded:
		b.foldWindow(&e)
	case EndsSoon:
		b.foldReminder(&e)
	default:
		b.foldAlert(&e)
	}
	b.forget(e.Time)
}

func (b *Book) foldRule(e *Entry) {
	if e.What == WasUnsuppressed {
		delete(b.Rules[e.Gauge], e.Rule)
		if len(b.Rules[e.Gauge]) == 0 {
			delete(b.Rules, e.Gauge)
		}
		return
	}
	if b.Rules == nil {
		b.Rules = map[string]map[string]time.Time{}
	}
	if b.Rules[e.Gauge] == nil {
		b.Rules[e.Gauge] = map[string]time.Time{}
	}
	b.Rules[e.Gauge][e.Rule] = e.Time
}

func (b *Book) foldWindow(e *Entry) {
	if b.Windows == nil {
		b.Windows = map[string]Window{}
	}
	if e.What == WindowAdded {
		b.Windows[e.Window.ID] = *e.Window
		return
	}
	w, ok := b.Windows[e.Window.ID]
	if !ok {
		return
	}
	w.Ended, w.EndedBy = e.Time, e.By
	b.Windows[e.Window.ID] = w
}

// foldReminder remembers that somebody was reminded, so that nobody is twice.
func (b *Book) foldReminder(e *Entry) {
	if e.Window != nil {
		if w, ok := b.Windows[e.Window.ID]; ok {
			w.Reminded = e.Time
			b.Windows[e.Window.ID] = w
		}
		return
	}
	if a, ok := b.Alerts[e.Alert]; ok && a.Shelf != nil {
		shelf := *a.Shelf
		shelf.Reminded = e.Time
		a.Shelf = &shelf
		b.Alerts[e.Alert] = a
	}
}

func (b *Book) foldAlert(e *Entry) {
	if b.Alerts == nil {
		b.Alerts = map[string]Alert{}
	}
	a, known := b.Alerts[e.Alert]
	if !known && e.What != WasRaised {
		return
	}
	switch e.What {
	case WasRaised, WasRaisedAgain, WasJoined, WasRenamed, WasEased, WasReturned:
		a.foldFinding(e)
	case WasHeld, WasResumed, WasShelved, WasUnshelved, WasOutOfService, WasBack:
		a.foldHold(e)
		b.note(e)
	default:
		a.foldPerson(e)
	}
	a.State = a.state()
	if a.State == Cleared && a.Cleared.IsZero() {
		a.Cleared = e.Time
	}
	b.Alerts[e.Alert] = a
}

func (a *Alert) foldFinding(e *Entry) {
	f := e.Finding
	switch e.What {
	case WasRaised:
		*a = Alert{ID: e.Alert, Gauge: e.Gauge, First: e.Time}
		fallthrough
	case WasRaisedAgain:
		a.Raised, a.Since, a.Returned, a.Acknowledged, a.By, a.Cleared = e.Time, f.Since, time.Time{}, time.Time{}, "", time.Time{}
		a.Raises++
		fallthrough
	case WasJoined:
		a.Findings = append(slices.Clone(a.Findings), Source{f.ID, f.name()})
		a.take(f)
	case WasRenamed:
		if i := a.source(f.ID); i >= 0 {
			a.Findings = slices.Clone(a.Findings)
			a.Findings[i].Name = f.name()
		}
		a.take(f)
	case WasEased, WasReturned:
		a.Findings = slices.DeleteFunc(slices.Clone(a.Findings), func(s Source) bool { return s.ID == f.ID })
		if len(a.Findings) == 0 {
			a.Findings, a.Returned, a.Untold, a.Beyond = nil, e.Time, nil, false
			if a.Shelf != nil && a.Shelf.UntilClear {
				a.Shelf = nil
			}
		}
	}
}

// foldHold books what keeps an alert quiet. Whoever shelves an alert is told
// when it comes back, seen before or not.
func (a *Alert) foldHold(e *Entry) {
	switch e.What {
	case WasHeld:
		a.Untold = e.Hold
	case WasResumed:
		a.Untold = nil
	case WasShelved:
		a.Shelf = e.Hold
	case WasUnshelved:
		a.Shelf = nil
	case WasOutOfService:
		a.OutOfService = e.Hold
	case WasBack:
		a.OutOfService = nil
	}
	if (e.What == WasShelved || e.What == WasOutOfService) && a.Present() {
		a.Untold = e.Hold
	}
}

// note remembers which window kept an alert quiet.
func (b *Book) note(e *Entry) {
	if e.What != WasHeld || e.Hold.What != "quiet window" {
		return
	}
	if w, ok := b.Windows[e.Hold.Name]; ok && !slices.Contains(w.Hid, e.Alert) {
		w.Hid = append(slices.Clone(w.Hid), e.Alert)
		b.Windows[e.Hold.Name] = w
	}
}

func (a *Alert) foldPerson(e *Entry) {
	switch e.What {
	case WasVisited:
		a.Latched = false
		fallthrough
	case WasAcknowledged:
		if !a.acked() {
			a.Acknowledged, a.By = e.Time, e.By
		}
		if a.Shelf == nil && a.OutOfService == nil {
			a.Untold = nil // somebody has seen it
		}
	case WasAssigned:
		a.Assigned = e.To
	}
	if e.Why != "" {
		a.Comments = append(slices.Clone(a.Comments), Comment{Time: e.Time, By: e.By, Text: e.Why})
		a.Comments = a.Comments[max(0, len(a.Comments)-keepComments):]
	}
}

// forget drops what cleared long ago; the journal has it. What is out of
// service stays until it is put back.
func (b *Book) forget(now time.Time) {
	for id, a := range b.Alerts {
		if a.State == Cleared && a.OutOfService == nil && now.Sub(a.Cleared) > keepCleared {
			delete(b.Alerts, id)
		}
	}
	for id, w := range b.Windows {
		if !w.Ended.IsZero() && !w.Configured && now.Sub(w.Ended) > keepCleared {
			delete(b.Windows, id)
		}
	}
}
