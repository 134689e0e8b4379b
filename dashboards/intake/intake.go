// Package intake is the door for files of a historian: what the pages and the
// interface may ask of the service that reads them.
package intake

import (
	"context"
	"io"
	"time"

	"bridlewatch/collector/store/exchange"
	"bridlewatch/dashboards/access"
)

// Door is where files of a historian come in. A file is tried first; it is
// read into history when somebody has seen the report and says so. The command
// line uses the same.
type Door interface {
	// Most is the size of the largest file that is taken, in bytes.
	Most() int64
	// Imports lists what is in hand, then what was imported, newest first.
	Imports(ctx context.Context) ([]Import, error)
	// HandIn takes a file and has it tried. The ending of its name says how it
	// is read: .csv or .parquet.
	HandIn(ctx context.Context, by access.Actor, name, file string, body io.Reader) error
	// Confirm imports the file that was tried.
	Confirm(ctx context.Context, by access.Actor, name string) error
	// Discard forgets the file in hand.
	Discard(ctx context.Context, by access.Actor, name string) error
	// Undo takes back an import.
	Undo(ctx context.Context, by access.Actor, name string) error
}

// MostName is the longest name of an import, in bytes.
const MostName = 64

// State is how far an import is.
type State string

// States of imports.
const (
	Trying      State = "trying"      // being read, nothing is stored
	Tried       State = "tried"       // waits for somebody to confirm it
	Refused     State = "refused"     // could not be read
	Running     State = "importing"   // being stored
	Done        State = "imported"    // can be undone
	Undoing     State = "undoing"     // being taken back
	Undone      State = "undone"      // was taken back
	Interrupted State = "interrupted" // stopped half-way; to be repeated or undone
)

// InHand reports whether the import is on its way through the door.
func (s State) InHand() bool {
	return s.Busy() || s == Tried || s == Refused
}

// Busy reports whether it is being worked at.
func (s State) Busy() bool {
	return s == Trying || s == Running || s == Undoing
}

// Import is a file of a historian on its way, or what became of it.
type Import struct {
	Name     string
	State    State
	File     string // as it was called where it came from; "" once it is imported
	By       string // who handed it in
	At       time.Time
	Rows     int // read by now
	From, To time.Time
	Zone     string // of its times, where they name none
	Report   *exchange.Report
	Trouble  string // why it was refused
}
