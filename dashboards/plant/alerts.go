package plant

import (
	"context"
	"time"
)

// Alerts answers for the alert pages: what is open, what is kept quiet, and
// what happened. They are alerts for technicians, not alarms.
type Alerts interface {
	// Open returns what somebody must still look at, most urgent first.
	Open(ctx context.Context) ([]Alert, error)
	// Quiet returns what is shelved or suppressed, soonest to end first.
	Quiet(ctx context.Context) ([]Alert, error)
	// Journal returns what happened in [from, to), newest first.
	Journal(ctx context.Context, from, to time.Time, limit int) ([]AlertLine, error)
}

// Alert is one alert as it stands.
type Alert struct {
	ID           string    `json:"id"` // of the finding behind it
	Gauge        string    `json:"gauge"`
	Tag          string    `json:"tag,omitempty"` // of the instrument blamed, "" while undecided
	Cause        string    `json:"cause"`         // in words
	State        string    `json:"state"`         // "unacknowledged", "acknowledged", "returned, unacknowledged", "cleared"
	Sentence     string    `json:"sentence"`
	Next         string    `json:"next,omitempty"`
	Raised       time.Time `json:"raised"`
	Returned     time.Time `json:"returned,omitzero"`     // zero: still there
	Acknowledged time.Time `json:"acknowledged,omitzero"` // zero: not yet
	By           string    `json:"by,omitempty"`          // who acknowledged or shelved it
	Assigned     string    `json:"assigned,omitempty"`
	Until        time.Time `json:"until,omitzero"` // end of being kept quiet, zero: open end
	Why          string    `json:"why,omitempty"`  // it is kept quiet
	Raises       int       `json:"raises,omitempty"`
	Hides        int       `json:"hides,omitempty"` // symptoms it explains

	Category   string  `json:"category,omitempty"` // of the gauge when it was raised
	Suspect    string  `json:"suspect,omitempty"`
	ValueMM    float64 `json:"value_mm,omitempty"`
	BudgetMM   float64 `json:"budget_mm,omitempty"`
	Latched    bool    `json:"latched,omitempty"`     // clears only after somebody was there
	Quiet      string  `json:"quiet,omitempty"`       // "shelved", "suppressed", "out of service", "quiet window"; "" when it is not
	QuietBy    string  `json:"quiet_by,omitempty"`    // who asked for it
	EndsSoon   bool    `json:"ends_soon,omitempty"`   // who asked for it was reminded
	UntilClear bool    `json:"until_clear,omitempty"` // quiet ends when what raised it is over
}

// AlertLine is one line of the journal.
type AlertLine struct {
	Time     time.Time
	Gauge    string
	What     string // "raised", "acknowledged", "cleared", ...
	Sentence string
	By       string // "" when the service did it
	Alert    string // its ID, "" for what is not about one alert
	State    string // of the alert afterwards
}
