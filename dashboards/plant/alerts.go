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
	ID           string // of the finding behind it
	Gauge        string
	Tag          string // of the instrument blamed, "" while undecided
	Cause        string // in words
	State        string // "unacknowledged", "acknowledged", "returned, unacknowledged", "shelved", "suppressed"
	Sentence     string
	Next         string
	Raised       time.Time
	Returned     time.Time // zero: still there
	Acknowledged time.Time // zero: not yet
	By           string    // who acknowledged or shelved it
	Assigned     string
	Until        time.Time // end of being kept quiet, zero: open end
	Why          string    // it is kept quiet
	Raises       int       // how often it was raised again
	Hides        int       // symptoms it explains
}

// AlertLine is one line of the journal.
type AlertLine struct {
	Time     time.Time
	Gauge    string
	What     string // "raised", "acknowledged", "cleared", ...
	Sentence string
	By       string // "" when the service did it
}
