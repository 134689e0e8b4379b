package watch

import (
	"cmp"
	"slices"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// Judged is how long after an alert what it is called counts: later its gaps may
// be those of a repair.
const Judged = 72 * time.Hour

// Episode is a finding of a history, called what it was called when it was judged.
type Episode struct {
	ID       string        `json:"id"`
	Symptom  symptom.Kind  `json:"symptom"` // when it opened
	Since    time.Time     `json:"since"`   // estimated onset
	Opened   time.Time     `json:"opened"`
	Raised   time.Time     `json:"raised,omitzero"` // as an alert; zero: only watched
	Closed   time.Time     `json:"closed,omitzero"` // zero: open at the end
	Suspect  cause.Suspect `json:"suspect"`
	Tag      string        `json:"tag,omitempty"`
	Sentence string        `json:"sentence"`
}

// Alerted reports whether it became an alert.
func (e *Episode) Alerted() bool { return !e.Raised.IsZero() }

// Lasts reports whether it was open at a time, or at the end.
func (e *Episode) Lasts(at time.Time) bool { return e.Closed.IsZero() || e.Closed.After(at) }

// Episodes are the findings of one gauge in the order they opened. The zero value
// is ready.
type Episodes struct {
	List []Episode
	at   map[string]int // by ID
}

// Add books one change.
func (x *Episodes) Add(c *Change) {
	f := &c.Finding
	i, known := x.at[f.ID]
	if !known {
		if x.at == nil {
			x.at = map[string]int{}
		}
		i = len(x.List)
		x.at[f.ID] = i
		x.List = append(x.List, Episode{ID: f.ID, Symptom: f.Symptom, Opened: c.Time})
	}
	e := &x.List[i]
	e.Since = f.Since
	if f.Tier == cause.Alert && !e.Alerted() {
		e.Raised = c.Time
	}
	switch {
	case c.What == "closed":
		e.Closed = c.Time
	case !e.Alerted() || c.Time.Sub(e.Raised) <= Judged:
		e.Suspect, e.Tag, e.Sentence = f.Blamed(), f.Tag, f.Sentence
	}
}

// Silence counts how often an instrument, or all of a gauge, had no usable reading.
type Silence struct {
	Tag     string        `json:"tag"`
	Times   int           `json:"times"`
	Longest time.Duration `json:"longest_ns"`
	Alerts  int           `json:"alerts"` // that were told as alerts
}

// silences lists the episodes without a usable reading by instrument, the most
// frequent first.
func (x *Episodes) silences() []Silence {
	by := map[string]*Silence{}
	for i := range x.List {
		e := &x.List[i]
		if e.Symptom != symptom.NoReading {
			continue
		}
		s := by[e.Tag]
		if s == nil {
			s = &Silence{Tag: e.Tag}
			by[e.Tag] = s
		}
		s.Times++
		if !e.Closed.IsZero() {
			s.Longest = max(s.Longest, e.Closed.Sub(e.Since))
		}
		if e.Alerted() {
			s.Alerts++
		}
	}
	var list []Silence
	for _, s := range by {
		list = append(list, *s)
	}
	slices.SortFunc(list, func(a, b Silence) int { return cmp.Or(b.Times-a.Times, cmp.Compare(a.Tag, b.Tag)) })
	return list
}
