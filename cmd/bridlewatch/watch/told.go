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

// Told is an alert as it was called when it was judged.
type Told struct {
	Raised   time.Time `json:"raised"`
	Closed   time.Time `json:"closed,omitzero"` // zero: open at the end
	Suspect  string    `json:"suspect"`
	Tag      string    `json:"tag,omitempty"`
	Sentence string    `json:"sentence"`
	ID       string    `json:"id"`
}

// Silence counts how often an instrument, or all of a gauge, had no usable reading.
type Silence struct {
	Tag     string        `json:"tag"`
	Times   int           `json:"times"`
	Longest time.Duration `json:"longest_ns"`
	Alerts  int           `json:"alerts"` // that were told as alerts
}

// tally counts the findings of one unit.
type tally struct {
	opened, open int
	alerts       map[string]bool // by finding
	told         []Told
	silences     map[string]*Silence
}

func newTally() tally { return tally{alerts: map[string]bool{}, silences: map[string]*Silence{}} }

// add books one change.
func (t *tally) add(c *Change) {
	f := &c.Finding
	switch c.What {
	case "opened":
		t.opened, t.open = t.opened+1, t.open+1
	case "closed":
		t.open--
	}
	first := f.Tier == cause.Alert && !t.alerts[f.ID]
	if first {
		t.alerts[f.ID] = true
	}
	if f.Symptom == symptom.NoReading {
		t.silence(c, first)
		return
	}
	if first {
		t.told = append(t.told, Told{Raised: c.Time, ID: f.ID})
	}
	i := slices.IndexFunc(t.told, func(x Told) bool { return x.ID == f.ID })
	switch {
	case i < 0:
	case c.What == "closed":
		t.told[i].Closed = c.Time
	case c.Time.Sub(t.told[i].Raised) <= Judged:
		t.told[i].Suspect, t.told[i].Tag, t.told[i].Sentence = string(f.Suspect), f.Tag, f.Sentence
	}
}

func (t *tally) silence(c *Change, alert bool) {
	f := &c.Finding
	s := t.silences[f.Tag]
	if s == nil {
		s = &Silence{Tag: f.Tag}
		t.silences[f.Tag] = s
	}
	if alert {
		s.Alerts++
	}
	switch c.What {
	case "opened":
		s.Times++
	case "closed":
		s.Longest = max(s.Longest, c.Time.Sub(f.Since))
	}
}

// silent lists the silences, the most frequent first.
func (t *tally) silent() []Silence {
	var list []Silence
	for _, s := range t.silences {
		list = append(list, *s)
	}
	slices.SortFunc(list, func(a, b Silence) int { return cmp.Or(b.Times-a.Times, cmp.Compare(a.Tag, b.Tag)) })
	return list
}
