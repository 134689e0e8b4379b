package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/alert"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/plant"
)

// Open returns what somebody must still look at and is not kept quiet.
func (d *Desk) Open(context.Context) ([]plant.Alert, error) {
	list := d.list(func(a *plant.Alert) bool { return a.Quiet == "" })
	return list, nil
}

// Quiet returns what is kept quiet, soonest to end first, open ends last.
func (d *Desk) Quiet(context.Context) ([]plant.Alert, error) {
	list := d.list(func(a *plant.Alert) bool { return a.Quiet != "" })
	slices.SortStableFunc(list, func(x, y plant.Alert) int {
		switch {
		case x.Until.IsZero() == y.Until.IsZero():
			return x.Until.Compare(y.Until)
		case x.Until.IsZero():
			return 1
		}
		return -1
	})
	return list, nil
}

func (d *Desk) list(wanted func(*plant.Alert) bool) []plant.Alert {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	list := []plant.Alert{}
	for _, a := range d.book.List() {
		if v := d.view(now, &a); wanted(&v) {
			list = append(list, v)
		}
	}
	return list
}

func (d *Desk) now() time.Time {
	if now := d.options.Now(); !now.IsZero() {
		return now
	}
	return time.Now()
}

func (d *Desk) view(now time.Time, a *alert.Alert) plant.Alert {
	v := plant.Alert{
		ID: a.ID, Gauge: a.Gauge, Tag: a.Tag, Cause: words(a.Cause, string(a.Symptom)), State: string(a.State), Sentence: a.Sentence, Next: strings.TrimPrefix(a.Next, "Next: "),
		Raised: a.Raised, Returned: a.Returned, Acknowledged: a.Acknowledged, By: a.By, Assigned: a.Assigned, Raises: a.Raises, Hides: a.Hides,
		Category: a.Category, Latched: a.Latched, Suspect: string(a.Suspect), ValueMM: a.Value.Millimetres(), BudgetMM: a.Budget.Millimetres(),
	}
	if a.Present() { // the evidence goes on while the alert stands
		f := d.finding(a)
		v.Sentence, v.Next, v.ValueMM, v.BudgetMM = f.Sentence, strings.TrimPrefix(f.Next, "Next: "), f.Value.Millimetres(), f.Budget.Millimetres()
	}
	if h, quiet := d.book.Held(now, a.ID); quiet {
		v.Quiet, v.QuietBy, v.Until, v.UntilClear, v.Why, v.EndsSoon = h.What, h.By, h.Until, h.UntilClear, h.Why, !h.Reminded.IsZero()
		if v.Why == "" || h.What == "suppressed" {
			v.Why = h.Name
		}
	}
	return v
}

// words is a cause as people say it; while it is open, the symptom.
func words(c cause.Cause, kind string) string {
	if c == cause.Unknown || c == "" {
		return strings.ReplaceAll(kind, "-", " ")
	}
	return cause.Phrase(c)
}

// Alert returns one alert and its comments.
func (d *Desk) Alert(_ context.Context, id string) (plant.Alert, []alert.Comment, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	a, ok := d.book.Alerts[id]
	if !ok {
		return plant.Alert{}, nil, fmt.Errorf("%w: %q", alert.ErrUnknown, id)
	}
	return d.view(d.now(), &a), slices.Clone(a.Comments), nil
}

// Act does what a person asks for.
func (d *Desk) Act(ctx context.Context, do alert.Action) (plant.Alert, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	entries, err := d.book.Act(now, do)
	if err != nil {
		return plant.Alert{}, err
	}
	d.keep(ctx, entries)
	a := d.book.Alerts[do.Alert]
	return d.view(now, &a), nil
}

// Journal returns what happened in [from, to), newest first.
func (d *Desk) Journal(ctx context.Context, from, to time.Time, limit int) ([]plant.AlertLine, error) {
	docs, err := d.options.Store.Documents(ctx, store.Query{Kind: EntryKind, From: from, To: to, Newest: true, Limit: limit})
	if err != nil {
		return nil, fmt.Errorf("alert journal: %w", err)
	}
	lines := make([]plant.AlertLine, 0, len(docs))
	for _, doc := range docs {
		e, err := entryOf(doc)
		if err != nil {
			return nil, err
		}
		lines = append(lines, d.line(&e))
	}
	return lines, nil
}

func (d *Desk) line(e *alert.Entry) plant.AlertLine {
	l := plant.AlertLine{Time: e.Time, Gauge: e.Gauge, Alert: e.Alert, What: string(e.What), Sentence: e.Sentence, By: e.By, State: string(e.State)}
	switch {
	case e.What == alert.WasAssigned && e.To == "":
		l.What = "assigned to nobody"
	case e.What == alert.WasAssigned:
		l.What += " to " + e.To
	case e.Rule != "":
		l.Sentence = "Rule: " + e.Rule + "."
	case e.What == alert.EndsSoon:
		l.Sentence = "Reminder for " + e.Hold.By + ": ends at " + d.clock(e.Hold.Until) + "."
	case e.Window != nil:
		l.What += " " + e.Window.ID
		if e.What == alert.WindowAdded {
			l.Sentence = "About " + e.Window.Scope() + " until " + d.clock(e.Window.Until) + "."
		}
	case e.What == alert.WasHeld || e.What == alert.WasResumed:
		l.Sentence += " " + d.wasQuiet(e.Hold)
	case e.What == alert.WasShelved && e.Hold != nil:
		l.What += " until " + d.clock(e.Hold.Until)
	}
	if e.Why != "" {
		l.Sentence = strings.TrimSpace(l.Sentence + " “" + e.Why + "”")
	}
	return l
}

// Windows returns the quiet windows, active ones first, then those to come,
// then those that have ended.
func (d *Desk) Windows(context.Context) ([]plant.Window, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	list := []plant.Window{}
	for _, w := range d.book.Windows {
		list = append(list, d.window(now, w))
	}
	slices.SortFunc(list, func(x, y plant.Window) int {
		if x.Active != y.Active {
			return map[bool]int{true: -1, false: 1}[x.Active]
		}
		if c := y.Until.Compare(x.Until); c != 0 {
			return c
		}
		return strings.Compare(x.ID, y.ID)
	})
	return list, nil
}

func (d *Desk) window(now time.Time, w alert.Window) plant.Window {
	v := plant.Window{Window: w, Scope: w.Scope(), Active: w.Active(now), Hides: []string{}}
	for _, id := range d.book.Hidden(now, w.ID) {
		a := d.book.Alerts[id]
		v.Hides = append(v.Hides, a.Gauge+": "+words(a.Cause, string(a.Symptom)))
	}
	return v
}

// AddWindow adds a quiet window.
func (d *Desk) AddWindow(ctx context.Context, w alert.Window) (plant.Window, error) {
	for _, tag := range w.Gauges {
		if _, ok := d.gauges[tag]; !ok {
			return plant.Window{}, fmt.Errorf("there is no gauge %s: tags are compared letter by letter", tag)
		}
	}
	for _, area := range w.Areas {
		if !slices.ContainsFunc(d.options.Gauges, func(g Gauge) bool { return g.Area == area }) {
			return plant.Window{}, fmt.Errorf("no gauge stands in an area %q: areas are compared letter by letter", area)
		}
	}
	for _, c := range w.Causes {
		if !slices.Contains(cause.All, cause.Cause(c)) {
			return plant.Window{}, fmt.Errorf("there is no cause %q: write it like %s", c, cause.FloatStuck)
		}
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	entries, err := d.book.AddWindow(now, w)
	if err != nil {
		return plant.Window{}, err
	}
	d.keep(ctx, entries)
	return d.window(now, d.book.Windows[entries[0].Window.ID]), nil
}

// EndWindow ends a quiet window before its time.
func (d *Desk) EndWindow(ctx context.Context, id, by string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	entries, err := d.book.EndWindow(d.now(), id, by)
	if err != nil {
		return err
	}
	d.keep(ctx, entries)
	return nil
}

// loadLimit bounds the journal a load is counted from.
const loadLimit = 50_000

// Load returns how much the alerts asked of people in the last days.
func (d *Desk) Load(ctx context.Context, days int) (alert.Load, error) {
	now := d.now()
	from := now.Add(-time.Duration(days) * 24 * time.Hour)
	docs, err := d.options.Store.Documents(ctx, store.Query{Kind: EntryKind, From: from.Add(-30 * 24 * time.Hour), Limit: loadLimit})
	if err != nil {
		return alert.Load{}, fmt.Errorf("alert journal: %w", err)
	}
	entries := make([]alert.Entry, 0, len(docs))
	for _, doc := range docs {
		e, err := entryOf(doc)
		if err != nil {
			return alert.Load{}, err
		}
		entries = append(entries, e)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.book.LoadOf(entries, from, now, len(d.gauges)), nil
}

// Routes returns how the ways out are.
func (d *Desk) Routes(context.Context) ([]plant.RouteHealth, error) {
	list := []plant.RouteHealth{}
	if d.options.Outbox == nil {
		return list, nil
	}
	for _, h := range d.options.Outbox.Health() {
		list = append(list, plant.RouteHealth(h))
	}
	return list, nil
}

// Trial sends a trial message over a route.
func (d *Desk) Trial(ctx context.Context, route, by string) error {
	if d.options.Outbox == nil {
		return errors.New("no route is configured: write one under notify")
	}
	if err := d.options.Outbox.Trial(ctx, route, d.options.Origin, by); err != nil {
		return fmt.Errorf("trial over %s: %w", route, err)
	}
	return nil
}
