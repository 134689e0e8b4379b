package alert

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Verb is what a person does with an alert.
type Verb string

// Verbs.
const (
	Acknowledge  Verb = "acknowledge"
	Visit        Verb = "visit" // somebody was there: a latched alert may clear
	Assign       Verb = "assign"
	AddComment   Verb = "comment"
	Shelve       Verb = "shelve"
	Unshelve     Verb = "unshelve"
	OutOfService Verb = "take out of service"
	BackInto     Verb = "put back in service"
)

// Action is what a person does.
type Action struct {
	Verb       Verb
	Alert      string
	By         string    // who does it; required
	Why        string    // comment or reason
	To         string    // assign: to whom, empty: to nobody
	Until      time.Time // shelve
	UntilClear bool      // shelve: ends when what raised the alert is over, at the latest at Until
}

// ErrUnknown is wrapped when there is no such alert.
var ErrUnknown = errors.New("there is no such alert")

// StateError says that an alert is not in a state for an action.
type StateError struct {
	Alert  string
	State  State
	Verb   Verb
	Remedy string
}

func (e *StateError) Error() string {
	return fmt.Sprintf("alert %s is %s, so it cannot be handled with %q: %s", e.Alert, e.State, e.Verb, e.Remedy)
}

// Act does what a person asks for, or says why not and what would help.
func (b *Book) Act(now time.Time, do Action) ([]Entry, error) {
	a, ok := b.Alerts[do.Alert]
	if !ok {
		return nil, fmt.Errorf("%w: %q; it may have cleared long ago, the journal has it", ErrUnknown, do.Alert)
	}
	do.By, do.Why, do.To = strings.TrimSpace(do.By), strings.TrimSpace(do.Why), strings.TrimSpace(do.To)
	if do.By == "" {
		return nil, errors.New("nobody is named: say who does this, the journal keeps it")
	}
	e := Entry{Time: now, Alert: do.Alert, Gauge: a.Gauge, By: do.By, Why: do.Why}
	if err := a.decide(now, &do, &e); err != nil {
		return nil, err
	}
	var j journal
	j.put(b, e)
	return append(j, b.Tick(now)...), nil
}

// decide completes the entry of an action, or refuses it.
func (a *Alert) decide(now time.Time, do *Action, e *Entry) error {
	switch do.Verb {
	case Acknowledge:
		e.What = WasAcknowledged
		return a.mayAcknowledge(do.Verb)
	case Visit:
		e.What = WasVisited
		return a.mayVisit(do)
	case Assign:
		e.What, e.To = WasAssigned, do.To
		if a.State == Cleared {
			return a.refuse(do.Verb, "a cleared alert needs nobody")
		}
		return nil
	case AddComment:
		e.What = WasCommented
		if do.Why == "" {
			return errors.New("the comment is empty: write what others should know")
		}
		return nil
	}
	return a.decideHold(now, do, e)
}

func (a *Alert) decideHold(now time.Time, do *Action, e *Entry) error {
	switch do.Verb {
	case Shelve:
		e.What = WasShelved
		e.Hold = &Hold{What: "shelved", By: do.By, Why: do.Why, From: now.UTC(), Until: do.Until.UTC(), UntilClear: do.UntilClear}
		return a.mayShelve(now, do, e.Hold)
	case Unshelve:
		e.What, e.Hold = WasUnshelved, a.Shelf
		if a.Shelf == nil {
			return a.refuse(do.Verb, "it is not shelved")
		}
		return nil
	case OutOfService:
		e.What, e.Hold = WasOutOfService, &Hold{What: "out of service", By: do.By, Why: do.Why, From: now.UTC()}
		if a.OutOfService != nil {
			return a.refuse(do.Verb, "it is out of service already, by "+a.OutOfService.By)
		}
		if do.Why == "" {
			return errors.New("out of service needs a reason: it has no end of its own")
		}
		return nil
	case BackInto:
		e.What, e.Hold = WasBack, a.OutOfService
		if a.OutOfService == nil {
			return a.refuse(do.Verb, "it is in service")
		}
		return nil
	}
	return fmt.Errorf("%q is nothing that can be done with an alert: one of %s, %s, %s, %s, %s, %s, %s, %s", do.Verb,
		Acknowledge, Visit, Assign, AddComment, Shelve, Unshelve, OutOfService, BackInto)
}

func (a *Alert) mayAcknowledge(v Verb) error {
	switch a.State {
	case Acknowledged:
		return a.refuse(v, fmt.Sprintf("%s has done so at %s; add a comment instead", a.By, a.Acknowledged.Format(time.RFC3339)))
	case Cleared:
		return a.refuse(v, "there is nothing left to see to")
	}
	return nil
}

func (a *Alert) mayVisit(do *Action) error {
	switch {
	case do.Why == "":
		return errors.New("a visit needs a word on what was found and done")
	case a.State == Cleared:
		return a.refuse(do.Verb, "there is nothing left to see to")
	case a.Present():
		return a.refuse(do.Verb, "what raised it is still there; it ends when the instruments agree again, or with a maintenance record")
	case !a.Latched:
		return a.refuse(do.Verb, "it does not wait for a visit: acknowledge it")
	}
	return nil
}

func (a *Alert) mayShelve(now time.Time, do *Action, h *Hold) error {
	if do.UntilClear && do.Until.IsZero() {
		h.Until = now.Add(LongestShelf).UTC()
	}
	switch {
	case a.State == Cleared:
		return a.refuse(do.Verb, "there is nothing to keep quiet; a quiet window covers what may come")
	case do.UntilClear && !a.Present():
		return a.refuse(do.Verb, "what raised it is over, so until clear would end at once; give an end")
	case do.Why == "":
		return errors.New("shelving needs a reason: everybody who finds the alert quiet will read it")
	case h.Until.IsZero():
		return errors.New("shelving needs an end, or until clear")
	case !h.Until.After(now):
		return fmt.Errorf("the end %s is in the past: give a later one", h.Until.Format(time.RFC3339))
	case h.Until.Sub(now) > LongestShelf:
		return fmt.Errorf("the end is %.1f days away: at most %.0f are allowed, shelve it again then", days(h.Until.Sub(now)), days(LongestShelf))
	}
	return nil
}

func (a *Alert) refuse(v Verb, remedy string) error {
	return &StateError{Alert: a.ID, State: a.State, Verb: v, Remedy: remedy}
}
