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
	Suspect  string    `json:"suspect"`
	Tag      string    `json:"tag,omitempty"` // of the instrument suspected
	Cause    string    `json:"cause"`
	Tier     string    `json:"tier"`
	Verdict  string    `json:"verdict"`
	Since    time.Time `json:"since"`
	Sentence string    `json:"sentence"`
	Next     string    `json:"next,omitempty"`
	ValueMM  float64   `json:"value_mm"`
	BudgetMM float64   `json:"budget_mm"`
	ID       string    `json:"id"`
}

// LineOf makes the line of a change.
func LineOf(c Change) Line {
	f := c.Finding
	verdict := compare.Disagree
	switch {
	case c.What == "closed":
		verdict = compare.Agree
	case f.Suspect == cause.Undecided || f.Suspect == cause.Signal || f.Suspect == cause.Service:
		verdict = compare.CannotTell
	}
	return Line{
		Time: c.Time, Event: c.What, Gauge: f.Gauge, Symptom: string(f.Symptom), Suspect: string(f.Suspect), Tag: f.Tag,
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
