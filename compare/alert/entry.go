package alert

import (
	"crypto/sha256"
	"encoding/hex"
	"strconv"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// What says what a journal entry is about. The strings are stored and
// published; never change one.
type What string

// Kinds of entries.
const (
	WasRaised       What = "raised"
	WasRaisedAgain  What = "raised again"
	WasJoined       What = "seen by another finding"
	WasEased        What = "one finding less"
	WasRenamed      What = "renamed"
	WasReturned     What = "returned to normal"
	WasAcknowledged What = "acknowledged"
	WasVisited      What = "visited"
	WasAssigned     What = "assigned"
	WasCommented    What = "commented"
	WasShelved      What = "shelved"
	WasUnshelved    What = "shelf ended"
	WasOutOfService What = "out of service"
	WasBack         What = "back in service"
	WasSuppressed   What = "suppressed by design"
	WasUnsuppressed What = "suppression ended"
	WasHeld         What = "kept quiet"
	WasResumed      What = "no longer quiet"
	WindowAdded     What = "quiet window added"
	WindowEnded     What = "quiet window ended"
	EndsSoon        What = "quiet ends soon"
)

// Tell says what people must be told because of an entry.
type Tell string

// Messages. The empty one tells nobody.
const (
	TellRaised  Tell = "raised"
	TellNamed   Tell = "named" // its cause was found
	TellEnded   Tell = "ended"
	TellResumed Tell = "resumed" // was quiet until now
	TellEnding  Tell = "ending"  // whoever keeps it quiet must decide what then
)

// Entry is one line of the journal. Entries are never changed.
type Entry struct {
	N        uint64    `json:"n"` // 1, 2, 3, ...
	Time     time.Time `json:"time"`
	What     What      `json:"what"`
	Alert    string    `json:"alert,omitempty"`
	Gauge    string    `json:"gauge,omitempty"`
	State    State     `json:"state,omitempty"` // of the alert afterwards
	By       string    `json:"by,omitempty"`    // empty: the service
	Why      string    `json:"why,omitempty"`   // comment or reason
	To       string    `json:"to,omitempty"`    // who it was assigned to
	Rule     string    `json:"rule,omitempty"`  // of the design
	Hold     *Hold     `json:"hold,omitempty"`
	Finding  *Finding  `json:"finding,omitempty"`
	Window   *Window   `json:"window,omitempty"`
	Sentence string    `json:"sentence,omitempty"` // of the alert
	Tell     Tell      `json:"tell,omitempty"`
}

// Finding is what an alert keeps of a finding. Evidence is the SHA-256 of the
// ledger, hexadecimal, so that the journal says which evidence it rested on.
type Finding struct {
	ID       string          `json:"id"`
	Gauge    string          `json:"gauge"`
	Area     string          `json:"area,omitempty"`
	Category string          `json:"category,omitempty"`
	Tag      string          `json:"tag,omitempty"`
	Symptom  symptom.Kind    `json:"symptom"`
	Cause    cause.Cause     `json:"cause"`
	Suspect  cause.Suspect   `json:"suspect"`
	Sentence string          `json:"sentence"`
	Next     string          `json:"next,omitempty"`
	Value    quantity.Length `json:"value_m"`
	Budget   quantity.Length `json:"budget_m"`
	Since    time.Time       `json:"since"`
	Hides    int             `json:"hides,omitempty"`
	Evidence string          `json:"evidence"`
	Limit    bool            `json:"limit,omitempty"` // a limit the user set is passed, or soon will be
}

// name is what the comparison calls the finding.
func (f *Finding) name() string {
	return string(f.Symptom) + "/" + string(f.Cause) + "/" + string(f.Suspect) + "/" + f.Tag
}

// findingOf keeps of a finding what an alert needs.
func findingOf(c *Change) *Finding {
	f := &c.Finding
	return &Finding{
		ID: f.ID, Gauge: f.Gauge, Area: c.Area, Category: c.Category, Tag: f.Tag, Symptom: f.Symptom, Cause: f.Cause, Suspect: f.Suspect,
		Sentence: f.Sentence, Next: f.Next, Value: f.Value, Budget: f.Budget, Since: f.Since.UTC(), Hides: len(f.Hides), Evidence: digest(f.Evidence), Limit: c.Limit,
	}
}

func digest(ledger []cause.Evidence) string {
	h := sha256.New()
	for i := range ledger {
		e := &ledger[i]
		h.Write([]byte(e.From.UTC().Format(time.RFC3339Nano) + "\x00" + e.To.UTC().Format(time.RFC3339Nano) + "\x00" + e.Sentence + "\x00"))
		h.Write(strconv.AppendFloat(nil, e.Nats, 'g', -1, 64))
		h.Write([]byte{0})
	}
	return hex.EncodeToString(h.Sum(nil))
}
