// Package coverage says what a gauge's instruments cannot see, what they have
// not been tested on since when, and where each was last proven: moved past an
// elevation together with an independent witness. A flat line proves nothing.
package coverage

import (
	"time"

	"bridlewatch/compare/quantity"
)

// BlindSpot is something this set of instruments cannot see.
type BlindSpot struct {
	ID          string    `json:"id"` // stable, e.g. "lower-connection"
	What        string    `json:"what"`
	Why         string    `json:"why"`
	Structural  bool      `json:"structural"` // follows from the instruments, not from recent movement
	PossibleNow bool      `json:"possible_now"`
	Reveals     string    `json:"reveals"`                // what would reveal it
	NotSince    time.Time `json:"not_since,omitzero"`     // dynamic: not tested since
	Excluded    time.Time `json:"last_excluded,omitzero"` // when it was last shown to be absent
}

// Proof is the newest pass of one instrument through one elevation bin.
type Proof struct {
	Tag        string          `json:"tag"`     // instrument proven
	Witness    string          `json:"witness"` // independent instrument it moved with
	From       quantity.Length `json:"from_m"`
	To         quantity.Length `json:"to_m"`
	At         time.Time       `json:"at,omitzero"` // zero: never
	Rising     bool            `json:"rising"`
	Difference quantity.Length `json:"difference_m"`
	U          quantity.Length `json:"u_m"`
	Passes     int             `json:"passes"`
}

// Way is how the level went past.
func (p *Proof) Way() string {
	if p.Rising {
		return "rising"
	}
	return "falling"
}
