package watch

import (
	"encoding/json"
	"io"
	"math"
	"sync"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
)

// Line is a finding as a line of JSON on standard output.
type Line struct {
	Time     time.Time `json:"time"`
	Event    string    `json:"event"` // opened, upgraded, closed
	Gauge    string    `json:"gauge"`
	Symptom  string    `json:"symptom"`
	Suspect  string    `json:"suspect"`       // "undecided" while several remain, "float or follower" where only those two do
	Tag      string    `json:"tag,omitempty"` // of the instrument suspected
	Cause    string    `json:"cause"`         // "unknown" while several remain
	Causes   []Odds    `json:"causes"`        // those that remain, likeliest first
	Tier     string    `json:"tier"`
	Verdict  string    `json:"verdict"`
	Since    time.Time `json:"since"`
	Sentence string    `json:"sentence"`
	Next     string    `json:"next,omitempty"`
	ValueMM  float64   `json:"value_mm"`
	BudgetMM float64   `json:"budget_mm"`
	ID       string    `json:"id"`
}

// Odds is one cause that remains and how likely it is, 0 to 1.
type Odds struct {
	Cause       cause.Cause `json:"cause"`
	Tag         string      `json:"tag,omitempty"`
	Probability float64     `json:"probability"`
}

// LineOf makes the line of a change.
func LineOf(c Change) Line {
	f := c.Finding
	verdict, suspect := compare.Disagree, f.Blamed()
	switch {
	case c.What == "closed":
		verdict = compare.Agree
	case suspect == cause.Undecided || f.Suspect == cause.Signal || f.Suspect == cause.Service:
		verdict = compare.CannotTell
	}
	causes := make([]Odds, len(f.Set))
	for i, r := range f.Set {
		causes[i] = Odds{Cause: r.Cause, Tag: r.Tag, Probability: math.Round(r.Probability*1000) / 1000}
	}
	return Line{
		Time: c.Time, Event: c.What, Gauge: f.Gauge, Symptom: string(f.Symptom), Suspect: string(suspect), Tag: f.Tag, Causes: causes,
		Cause: string(f.Cause), Tier: string(f.Tier), Verdict: string(verdict), Since: f.Since, Sentence: f.Sentence, Next: f.Next,
		ValueMM: tenth(f.Value.Millimetres()), BudgetMM: tenth(f.Budget.Millimetres()), ID: f.ID,
	}
}

func tenth(v float64) float64 { return math.Round(v*10) / 10 }

// Lines writes changes as JSON lines, one at a time.
type Lines struct {
	mu  sync.Mutex
	enc *json.Encoder
	err error
}

// NewLines writes to w.
func NewLines(w io.Writer) *Lines {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return &Lines{enc: enc}
}

// Write writes one value; after an error it writes no more.
func (l *Lines) Write(v any) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.err == nil {
		l.err = l.enc.Encode(v)
	}
}

// Err returns the first error.
func (l *Lines) Err() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.err
}
