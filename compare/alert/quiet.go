package alert

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Window keeps the alerts of gauges, areas or causes quiet for a stated time
// and reason. Lists that are empty do not restrict.
type Window struct {
	ID         string    `json:"id"`
	Gauges     []string  `json:"gauges,omitempty"`
	Areas      []string  `json:"areas,omitempty"`
	Causes     []string  `json:"causes,omitempty"`
	From       time.Time `json:"from"`
	Until      time.Time `json:"until"`
	UntilClear bool      `json:"until_clear,omitempty"` // ends early once everything it kept quiet is over
	Reason     string    `json:"reason"`
	By         string    `json:"by"`
	Configured bool      `json:"configured,omitempty"` // written in the configuration

	Hid      []string  `json:"hid,omitempty"`     // alerts it kept quiet
	Reminded time.Time `json:"reminded,omitzero"` // that it ends soon; zero: not yet
	Ended    time.Time `json:"ended,omitzero"`
	EndedBy  string    `json:"ended_by,omitempty"`
}

// Active reports whether the window keeps anything quiet at now.
func (w *Window) Active(now time.Time) bool {
	return w.Ended.IsZero() && !now.Before(w.From) && now.Before(w.Until)
}

// Covers reports whether the window is about an alert.
func (w *Window) Covers(a *Alert) bool {
	place := len(w.Gauges) == 0 && len(w.Areas) == 0 || slices.Contains(w.Gauges, a.Gauge) || slices.Contains(w.Areas, a.Area)
	return place && (len(w.Causes) == 0 || slices.Contains(w.Causes, string(a.Cause)))
}

// Scope says in words what the window is about.
func (w *Window) Scope() string {
	var parts []string
	for _, p := range []struct {
		what  string
		names []string
	}{{"gauges", w.Gauges}, {"areas", w.Areas}, {"causes", w.Causes}} {
		if len(p.names) > 0 {
			parts = append(parts, p.what+" "+strings.Join(p.names, ", "))
		}
	}
	if len(parts) == 0 {
		return "everything"
	}
	return strings.Join(parts, "; ")
}

func (w *Window) hold() *Hold {
	return &Hold{What: "quiet window", Name: w.ID, By: w.By, Why: w.Reason, From: w.From, Until: w.Until, UntilClear: w.UntilClear, Reminded: w.Reminded}
}

// check refuses what must not be kept quiet.
func (w *Window) check(now time.Time) error {
	switch {
	case strings.TrimSpace(w.By) == "":
		return errors.New("a quiet window needs an author: say who asks for it")
	case strings.TrimSpace(w.Reason) == "":
		return errors.New("a quiet window needs a reason: everybody who finds an alert quiet will read it")
	case w.Until.IsZero():
		return errors.New("a quiet window needs an end")
	case !w.Until.After(w.From), !w.Until.After(now):
		return fmt.Errorf("the quiet window ends at %s, before it begins or in the past: give a later end", w.Until.Format(time.RFC3339))
	case w.Until.Sub(w.From) > LongestQuiet:
		return fmt.Errorf("the quiet window lasts %.0f days: at most %.0f are allowed, add another later", days(w.Until.Sub(w.From)), days(LongestQuiet))
	case len(w.Gauges)+len(w.Areas)+len(w.Causes) == 0:
		return errors.New("the quiet window is about everything: name gauges, areas or causes")
	}
	return nil
}

func days(d time.Duration) float64 { return d.Hours() / 24 }

// AddWindow adds a quiet window. A window without an ID is numbered; one
// without a beginning begins now.
func (b *Book) AddWindow(now time.Time, w Window) ([]Entry, error) {
	if w.From.IsZero() {
		w.From = now
	}
	if w.ID == "" {
		w.ID = fmt.Sprintf("q-%d", b.N+1)
	}
	if _, taken := b.Windows[w.ID]; taken {
		return nil, fmt.Errorf("there is a quiet window %s already: choose another name", w.ID)
	}
	if err := w.check(now); err != nil {
		return nil, err
	}
	return b.addWindow(now, w), nil
}

func (b *Book) addWindow(now time.Time, w Window) []Entry {
	w.From, w.Until, w.Hid, w.Reminded = w.From.UTC(), w.Until.UTC(), nil, time.Time{}
	var j journal
	j.put(b, Entry{Time: now, What: WindowAdded, By: w.By, Why: w.Reason, Window: &w})
	return j
}

// EndWindow ends a quiet window before its time.
func (b *Book) EndWindow(now time.Time, id, by string) ([]Entry, error) {
	w, ok := b.Windows[id]
	switch {
	case !ok:
		return nil, fmt.Errorf("there is no quiet window %s: list them to see their names", id)
	case strings.TrimSpace(by) == "":
		return nil, errors.New("ending a quiet window needs a name: say who ends it")
	case !w.Ended.IsZero():
		return nil, fmt.Errorf("quiet window %s has ended already, at %s", id, w.Ended.Format(time.RFC3339))
	}
	j := b.endWindow(now, id, by, "")
	j = append(j, b.Tick(now)...)
	return j, nil
}

func (b *Book) endWindow(now time.Time, id, by, why string) []Entry {
	var j journal
	j.put(b, Entry{Time: now, What: WindowEnded, By: by, Why: why, Window: &Window{ID: id}})
	return j
}

// Configure makes the windows of the configuration those of the book: new ones
// are added, changed ones replaced, ones no longer written ended. A window
// somebody has ended stays so.
func (b *Book) Configure(now time.Time, windows []Window) []Entry {
	var j []Entry
	for _, id := range sorted(b.Windows) {
		w := b.Windows[id]
		written := slices.ContainsFunc(windows, func(x Window) bool { return x.ID == id })
		if w.Configured && w.Ended.IsZero() && !written {
			j = append(j, b.endWindow(now, id, "", "no longer in the configuration")...)
		}
	}
	for _, w := range windows {
		w.Configured = true
		if old, known := b.Windows[w.ID]; known && old.sameAs(&w) || !w.Until.After(now) {
			continue
		}
		j = append(j, b.addWindow(now, w)...)
	}
	return j
}

func (w *Window) sameAs(x *Window) bool {
	return w.Configured && w.From.Equal(x.From) && w.Until.Equal(x.Until) && w.Reason == x.Reason && w.By == x.By &&
		slices.Equal(w.Gauges, x.Gauges) && slices.Equal(w.Areas, x.Areas) && slices.Equal(w.Causes, x.Causes)
}

// Hidden lists the alerts a window keeps quiet now.
func (b *Book) Hidden(now time.Time, id string) []string {
	w, ok := b.Windows[id]
	if !ok || !w.Active(now) {
		return nil
	}
	var ids []string
	for _, k := range sorted(b.Alerts) {
		if a := b.Alerts[k]; a.Open() && w.Covers(&a) {
			ids = append(ids, k)
		}
	}
	return ids
}
