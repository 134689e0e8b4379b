// Package record is the stored form of what people did to a gauge: what they
// found, what they left, with which reference, under which conditions, and
// what they did not test. A record is never changed: a correction is a record
// of its own, and each record carries the hash of the one before it.
//
// A record judges readings by a guard band and never by a bare pass: it says
// within, outside, or that the measurement cannot say. It computes no test
// interval and takes no credit for anybody's proof test.
//
// Lengths are metres above the lower tap, pressures absolute pascals,
// temperatures kelvins, densities kilograms per cubic metre.
package record

import (
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/uncertainty"
)

// Schema is the version of the stored form. Fields may be added without a new
// version; a reader refuses a newer one.
const Schema = 1

// Record is one thing that people did to a gauge.
type Record struct {
	Schema int    `json:"schema"`
	Number int    `json:"number"` // counts from 1 on each box, without gaps
	Site   string `json:"site,omitempty"`
	Box    string `json:"box,omitempty"`
	// Rehearsal says that a simulated plant was worked on; it stands on every
	// form of the record.
	Rehearsal bool `json:"rehearsal,omitempty"`

	Kind       Kind      `json:"kind"`
	Gauge      string    `json:"gauge"`
	Service    string    `json:"service,omitempty"`
	Instrument string    `json:"instrument,omitempty"` // tag of what was worked on; empty: the whole gauge
	Began      time.Time `json:"began,omitzero"`
	At         time.Time `json:"at"`     // when the work was done, with the offset of the plant
	Booked     time.Time `json:"booked"` // when it was written into the book
	Zone       string    `json:"zone,omitempty"`
	By         string    `json:"by"`
	Permit     string    `json:"permit,omitempty"` // number of the site's permit
	Work       string    `json:"work"`             // what was done, in words
	Remarks    string    `json:"remarks,omitempty"`
	Corrects   int       `json:"corrects,omitempty"` // number of the record this one puts right

	Method     string      `json:"method,omitempty"`
	Reference  *Reference  `json:"reference,omitempty"`
	Conditions *Conditions `json:"conditions,omitempty"`
	Rows       []Row       `json:"rows,omitempty"`
	Trips      []Trip      `json:"trips,omitempty"`
	NotTested  []string    `json:"not_tested,omitempty"`

	Budgets []uncertainty.Budget `json:"budgets,omitempty"` // in millimetres, of the levels as they were used
	Sheet   *datasheet.Sheet     `json:"sheet,omitempty"`   // the data sheet the record was made with
	Picture *Picture             `json:"picture,omitempty"` // what the instruments said at the end, to be drawn

	Configuration string      `json:"configuration,omitempty"` // version
	Software      string      `json:"software,omitempty"`
	Signatures    []Signature `json:"signatures,omitempty"`

	Previous     int    `json:"previous"`                // number of the record before, 0: this is the first
	PreviousHash string `json:"previous_hash,omitempty"` // SHA-256 of its stored bytes, hexadecimal
}

// Reference is what the instruments were held against.
type Reference struct {
	Description string          `json:"description"` // e.g. "sight glass with steel rule"
	Serial      string          `json:"serial,omitempty"`
	Due         string          `json:"due,omitempty"` // date of its next calibration, yyyy-mm-dd
	U           quantity.Length `json:"u_m"`           // expanded uncertainty (k = 2) of one reading
}

// Overdue reports whether the reference's calibration had run out at t. A date
// nobody gave or could read is not overdue.
func (r *Reference) Overdue(t time.Time) bool {
	due, err := time.ParseInLocation(time.DateOnly, r.Due, t.Location())
	return err == nil && t.After(due.AddDate(0, 0, 1))
}

// Conditions are those of the process during the work.
type Conditions struct {
	Pressure    quantity.Pressure    `json:"pressure_pa,omitempty"`
	Temperature quantity.Temperature `json:"temperature_k,omitempty"`
	Chamber     quantity.Temperature `json:"chamber_k,omitempty"`
	Density     quantity.Density     `json:"density_kg_m3,omitempty"` // of the liquid in the chamber
	DensityU    quantity.Density     `json:"density_u_kg_m3,omitempty"`
	Source      string               `json:"source,omitempty"`  // of the density
	Assumed     bool                 `json:"assumed,omitempty"` // pressure or temperature came from the data sheet
}

// Phase says whether something was found or left.
type Phase string

// Phases.
const (
	AsFound Phase = "as found"
	AsLeft  Phase = "as left"
)

// Row is one elevation: what the reference said and what each instrument said
// at the same moment.
type Row struct {
	Phase     Phase           `json:"phase"`
	At        time.Time       `json:"at"`
	Asked     quantity.Length `json:"asked_m"` // elevation the row was meant for
	Reference quantity.Length `json:"reference_m"`
	Readings  []Reading       `json:"readings"`
}

// Reading is one instrument in a row.
type Reading struct {
	Tag     string          `json:"tag"`
	Role    string          `json:"role"`
	Value   quantity.Length `json:"value_m"`
	Missing string          `json:"missing,omitempty"` // why there is no value
	Verdict
}

// Trip is where a point switch changed over.
type Trip struct {
	Phase   Phase           `json:"phase"`
	Tag     string          `json:"tag"`
	Rising  *Change         `json:"rising,omitempty"`  // nil: not exercised upwards
	Falling *Change         `json:"falling,omitempty"` // nil: not exercised downwards
	Sheet   Setting         `json:"sheet"`
	Allowed quantity.Length `json:"allowed_m"` // of each trip point against the data sheet
}

// Change is one change of state.
type Change struct {
	Level   quantity.Length `json:"level_m"`
	U       quantity.Length `json:"u_m"`     // expanded (k = 2) of Level
	Witness string          `json:"witness"` // who gave the level: "reference" or a tag
	At      time.Time       `json:"at,omitzero"`
	Filling bool            `json:"filling,omitempty"` // deliberate filling or draining rather than the process
	Verdict
}

// Setting is what the data sheet says of a switch.
type Setting struct {
	Rising   quantity.Length `json:"rising_m"`
	Falling  quantity.Length `json:"falling_m"`
	Operated string          `json:"operated,omitempty"` // "float" or "liquid"
}

// Hysteresis is the distance between the two trip points; ok is false unless
// both were exercised.
func (t *Trip) Hysteresis() (h quantity.Length, ok bool) {
	if t.Rising == nil || t.Falling == nil {
		return 0, false
	}
	return t.Rising.Level - t.Falling.Level, true
}

// Picture is what the drawing of a record shows.
type Picture struct {
	At          time.Time        `json:"at"`
	Float       *Mark            `json:"float,omitempty"`
	Transmitter *Mark            `json:"transmitter,omitempty"`
	Second      *Mark            `json:"second,omitempty"`
	Magnet      *quantity.Length `json:"magnet_m,omitempty"`
	Liquid      quantity.Density `json:"liquid_kg_m3,omitempty"`
	Gas         quantity.Density `json:"gas_kg_m3,omitempty"`
	Points      []string         `json:"points,omitempty"` // "wet", "dry" or "unknown", in the order of the data sheet
	Isolated    bool             `json:"isolated,omitempty"`
}

// Mark is a level in the picture.
type Mark struct {
	Value quantity.Length `json:"value_m"`
	U     quantity.Length `json:"u_m"` // standard
}

// Signature is a name under the record. A name is not a signature in the sense
// of any law; the printed form has room for one.
type Signature struct {
	Role string `json:"role"` // "tested by", "witnessed by", "accepted by"
	Name string `json:"name"`
}
