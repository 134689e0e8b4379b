package alert

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"bridlewatch/compare/cause"
)

// Book holds every alert that is open or was so lately, the quiet windows, and
// the rules of the design that apply. The zero value is an empty book. It is a
// plain value for encoding/json and belongs to one goroutine at a time.
type Book struct {
	N       uint64                          `json:"n"` // entries so far
	Alerts  map[string]Alert                `json:"alerts"`
	Windows map[string]Window               `json:"windows"`
	Rules   map[string]map[string]time.Time `json:"rules"` // gauge, rule, since
}

// Change is what the comparison found.
type Change struct {
	What     string // "opened", "upgraded", "closed"
	Finding  cause.Finding
	Area     string // of the gauge
	Category string // of the gauge now
	// Limit says that the finding is a limit the user set: an alert about the
	// same trouble is raised again by it, seen before or not.
	Limit bool
}

// journal gathers entries while they are folded.
type journal []Entry

// put numbers an entry, folds it and keeps it.
func (j *journal) put(b *Book, e Entry) {
	e.N, e.Time = b.N+1, e.Time.UTC()
	b.Fold(e)
	if a, ok := b.Alerts[e.Alert]; ok {
		e.State = a.State
		if e.Sentence == "" {
			e.Sentence = a.Sentence
		}
	}
	*j = append(*j, e)
}

// Apply folds what the comparison found. Findings that are only watched are
// none of the book's business. The same change twice is one change.
func (b *Book) Apply(now time.Time, c Change) []Entry {
	if c.Finding.Tier != cause.Alert {
		return nil
	}
	var j journal
	f := findingOf(&c)
	id := b.holder(f.ID)
	switch {
	case c.What == "closed" && id != "":
		b.ease(&j, now, id, f)
	case c.What == "closed":
	case id != "":
		b.rename(&j, now, id, f)
	default:
		b.raise(&j, now, f)
	}
	return j
}

// holder returns the alert a finding keeps present, "" for none.
func (b *Book) holder(finding string) string {
	for id, a := range b.Alerts {
		if a.holds(finding) {
			return id
		}
	}
	return ""
}

// raise opens an alert, or raises again the one the finding is about.
func (b *Book) raise(j *journal, now time.Time, f *Finding) {
	old := b.lately(now, f)
	switch {
	case old == "":
		id := f.ID
		if _, taken := b.Alerts[id]; taken { // the finding came back under its own name
			id = f.ID + "+" + now.UTC().Format("20060102T150405Z")
		}
		b.tell(j, Entry{Time: now, What: WasRaised, Alert: id, Gauge: f.Gauge, Finding: f}, f, TellRaised)
	default:
		a := b.Alerts[old]
		switch {
		case a.Present() && (!f.Limit || a.Beyond): // the same condition under another number, as after a lost detector state
			j.put(b, Entry{Time: now, What: WasJoined, Alert: old, Gauge: f.Gauge, Finding: f, Tell: b.names(now, &a, f)})
		case a.State == Returned && !f.Limit && a.Untold == nil && b.held(now, &a) == nil: // told before, and nobody has looked yet
			j.put(b, Entry{Time: now, What: WasRaisedAgain, Alert: old, Gauge: f.Gauge, Finding: f})
		default:
			b.tell(j, Entry{Time: now, What: WasRaisedAgain, Alert: old, Gauge: f.Gauge, Finding: f}, f, TellRaised)
		}
	}
}

// lately returns the alert of which a finding is another instance: one that is
// open, or has cleared within SameWithin.
func (b *Book) lately(now time.Time, f *Finding) string {
	best := ""
	for _, id := range sorted(b.Alerts) {
		a := b.Alerts[id]
		if !a.same(f) || a.State == Cleared && a.OutOfService == nil && now.Sub(a.Cleared) > SameWithin {
			continue
		}
		if best == "" || b.Alerts[best].Raised.Before(a.Raised) {
			best = id
		}
	}
	return best
}

// tell puts an entry that people must hear of, unless the alert is kept quiet,
// which is then written down as well.
func (b *Book) tell(j *journal, e Entry, f *Finding, t Tell) {
	trial, known := b.Alerts[e.Alert]
	if !known {
		trial = Alert{ID: e.Alert, Gauge: f.Gauge}
	}
	trial.take(f)
	hold := b.held(e.Time, &trial)
	if hold == nil {
		e.Tell = t
	}
	j.put(b, e)
	if hold != nil {
		j.put(b, Entry{Time: e.Time, What: WasHeld, Alert: e.Alert, Gauge: f.Gauge, Hold: hold})
	}
}

// rename follows a change of mind of the comparison.
func (b *Book) rename(j *journal, now time.Time, id string, f *Finding) {
	a := b.Alerts[id]
	if a.Findings[a.source(f.ID)].Name == f.name() {
		return
	}
	j.put(b, Entry{Time: now, What: WasRenamed, Alert: id, Gauge: f.Gauge, Finding: f, Tell: b.names(now, &a, f)})
}

// names says whether people must hear that the cause of an alert was found.
func (b *Book) names(now time.Time, a *Alert, f *Finding) Tell {
	if a.Cause == cause.Unknown && f.Cause != cause.Unknown && !f.Limit && a.Untold == nil && b.held(now, a) == nil {
		return TellNamed
	}
	return ""
}

// ease takes a finding from an alert; without findings it has returned.
func (b *Book) ease(j *journal, now time.Time, id string, f *Finding) {
	a := b.Alerts[id]
	e := Entry{Time: now, What: WasReturned, Alert: id, Gauge: f.Gauge, Finding: f}
	if len(a.Findings) > 1 {
		e.What = WasEased
	} else if a.Untold == nil && b.held(now, &a) == nil {
		e.Tell = TellEnded
	}
	j.put(b, e)
}

// Reconcile compares the book with the findings of the alert tier that are
// open on a gauge, as after a restart: what was missed is made up for. A
// finding that is gone ends its alert only once the detectors have had time to
// find it again, which the caller says with settled.
func (b *Book) Reconcile(now time.Time, gauge string, open []Change, settled bool) []Entry {
	var j []Entry
	for _, c := range open {
		c.What = "opened"
		j = append(j, b.Apply(now, c)...)
	}
	if !settled {
		return j
	}
	for _, id := range sorted(b.Alerts) {
		a := b.Alerts[id]
		if a.Gauge != gauge {
			continue
		}
		for _, s := range slices.Clone(a.Findings) {
			if !slices.ContainsFunc(open, func(c Change) bool { return c.Finding.ID == s.ID }) {
				gone := Change{What: "closed", Finding: cause.Finding{ID: s.ID, Gauge: gauge, Tier: cause.Alert}}
				j = append(j, b.Apply(now, gone)...)
			}
		}
	}
	return j
}

// Suppress says whether a rule of the design keeps the alerts of a gauge
// quiet, for example "chamber isolated".
func (b *Book) Suppress(now time.Time, gauge, rule string, on bool) []Entry {
	if _, is := b.Rules[gauge][rule]; is == on {
		return nil
	}
	var j journal
	if on {
		j.put(b, Entry{Time: now, What: WasSuppressed, Gauge: gauge, Rule: rule})
		return j
	}
	j.put(b, Entry{Time: now, What: WasUnsuppressed, Gauge: gauge, Rule: rule})
	return append(j, b.Tick(now)...)
}

// Tick lets time pass: shelves and windows end, and what was kept quiet and is
// still there is told. It costs a look at every alert and window.
func (b *Book) Tick(now time.Time) []Entry {
	var j journal
	for _, id := range sorted(b.Alerts) {
		a := b.Alerts[id]
		switch {
		case a.Shelf == nil:
		case !a.Shelf.Until.After(now):
			j.put(b, Entry{Time: now, What: WasUnshelved, Alert: id, Gauge: a.Gauge, Hold: a.Shelf})
		case a.Present() && remind(now, a.Shelf.From, a.Shelf.Until, a.Shelf.Reminded):
			j.put(b, Entry{Time: now, What: EndsSoon, Alert: id, Gauge: a.Gauge, Hold: a.Shelf, Tell: TellEnding})
		}
	}
	for _, id := range sorted(b.Windows) {
		w := b.Windows[id]
		switch {
		case !w.Ended.IsZero() || now.Before(w.From):
		case !now.Before(w.Until):
			j = append(j, b.endWindow(now, id, "", "its time is over")...)
		case w.UntilClear && len(w.Hid) > 0 && !b.anyPresent(w.Hid):
			j = append(j, b.endWindow(now, id, "", "everything it kept quiet is over")...)
		case remind(now, w.From, w.Until, w.Reminded):
			j.put(b, Entry{Time: now, What: EndsSoon, Window: &Window{ID: id}, Hold: w.hold(), Tell: TellEnding})
		}
	}
	for _, id := range sorted(b.Alerts) {
		if a := b.Alerts[id]; a.Untold != nil && a.Present() && b.held(now, &a) == nil {
			j.put(b, Entry{Time: now, What: WasResumed, Alert: id, Gauge: a.Gauge, Hold: a.Untold, Tell: TellResumed})
		}
	}
	return j
}

func (b *Book) anyPresent(ids []string) bool {
	return slices.ContainsFunc(ids, func(id string) bool { a := b.Alerts[id]; return a.Present() })
}

// held returns why an alert is kept quiet now, nil when it is not.
func (b *Book) held(now time.Time, a *Alert) *Hold {
	if a.OutOfService != nil {
		return a.OutOfService
	}
	if a.Shelf != nil && a.Shelf.Until.After(now) {
		return a.Shelf
	}
	for _, rule := range sorted(b.Rules[a.Gauge]) {
		return &Hold{What: "suppressed", Name: rule, From: b.Rules[a.Gauge][rule]}
	}
	for _, id := range sorted(b.Windows) {
		if w := b.Windows[id]; w.Active(now) && w.Covers(a) {
			return w.hold()
		}
	}
	return nil
}

// Held returns why the alert is kept quiet at now.
func (b *Book) Held(now time.Time, id string) (Hold, bool) {
	a, ok := b.Alerts[id]
	if !ok {
		return Hold{}, false
	}
	h := b.held(now, &a)
	if h == nil {
		return Hold{}, false
	}
	return *h, true
}

func sorted[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// List returns the alerts that are open, most urgent first: the worst category
// before others, unacknowledged before acknowledged, the newest first.
func (b *Book) List() []Alert {
	var list []Alert
	for _, id := range sorted(b.Alerts) {
		if a := b.Alerts[id]; a.Open() {
			list = append(list, a)
		}
	}
	slices.SortStableFunc(list, func(x, y Alert) int {
		return cmp.Or(cmp.Compare(rank(x.State), rank(y.State)), cmp.Compare(severity(x.Category), severity(y.Category)), y.Raised.Compare(x.Raised))
	})
	return list
}

func rank(s State) int {
	return slices.Index([]State{Unacknowledged, Returned, Acknowledged, Cleared}, s)
}

// severity orders the categories of gauges, worst first.
func severity(category string) int {
	if i := slices.Index([]string{"failure", "function check", "out of specification", "maintenance required"}, category); i >= 0 {
		return i
	}
	return 4
}
