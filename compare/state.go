package compare

import (
	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// State is everything Evaluate remembers of one gauge. The zero value is a
// gauge just commissioned. It is a plain value: encode it with encoding/json
// or encoding/gob, and a restart continues without forgetting or announcing
// anything twice. It belongs to one gauge and one goroutine.
type State struct {
	Began int64 // Unix seconds of the first scan, 0: none yet
	Last  int64 // of the newest scan

	Minute    symptom.Compressor
	Movement  symptom.Movement
	Gaps      [gauge.Pairs]symptom.Gap
	Points    [datasheet.MaxPoints]symptom.Point
	Presence  symptom.Presence
	Proofs    coverage.Passes
	Base      [gauge.Pairs]symptom.Baseline
	Sign      [gauge.Pairs]symptom.Signature
	Noise     [gauge.Pairs]symptom.Noise
	Calm      [symptom.Channels]symptom.Calm // of the transmitters
	Noisy     [symptom.Channels]symptom.Noisy
	Loud      uint8 // channels that grew noisy alone, one bit each
	Exception [symptom.Channels]symptom.Exception
	Repeat    [symptom.Channels]symptom.Repeat
	Drifts    [gauge.Pairs]Drift
	Allow     [gauge.Pairs]Allowance
	Varies    [gauge.Pairs]float64 // largest change a healthy gap could make lately, mm
	Guessed   float64              // minutes lately with an assumed condition
	Flat      Rest                 // newest hourly look, zero: nothing rests
	Hourly    int64                // hour and day of the newest slow looks
	Daily     int64
	Hours     symptom.Trace                // ten-minute marks of the last week
	Months    symptom.Trace                // four-hour marks of the last months
	DensityU  float64                      // relative standard uncertainty of the liquid's density by model and composition
	Above     [symptom.Channels]shape.Tilt // interface service: mm a standard uncertainty of the upper liquid's density gives
	Steady    [symptom.Channels]float64    // standard uncertainty of what is constant in a level, mm

	Isolated bool
	ByRecord bool  // isolated by a maintenance record rather than by the snapshot
	Rebased  int64 // when work last changed what is normal, 0: never
	Returned int64 // when the chamber came back into service, 0: never isolated
	Silent   int64 // when no signal arrived last, 0: never
	Away     uint8 // conditions that are assumed, one bit each
	AwayAt   int64 // when they last changed, 0: never

	Episodes []Episode
	Serial   uint32 // of the newest episode

	physics  gauge.Memory // of the last scan; found again after a restart
	block    symptom.Block
	notes    []sign
	marks    []symptom.Mark
	sorted   [144]float64
	verdicts []Verdict
	open     []cause.Finding
	opened   []cause.Finding
	upgraded []cause.Finding
	revised  []cause.Finding
	closed   []cause.Finding
	headline string
	next     string
	category Category
	written  int64 // minute the headline was written for
}

// Episode is one finding from its opening to its end.
type Episode struct {
	Finding  cause.Finding
	Group    Group
	Index    int     // point or signal; 0 for levels
	Channels uint8   // channels blamed, one bit each; bit symptom.Channels: the chamber
	Shown    int64   // Unix seconds a sign of the symptom it is called by was last present
	Active   int64   // Unix seconds a sign of it was last present
	Weighed  int64   // when its causes were last weighed
	Wish     Name    // what the newest weighing would call it
	Wished   int     // weighings in a row it would
	WishedAt int64   // since when
	Standing float64 // odds of the name it has, smoothed over the newest weighings, nats
	Revised  int64   // when a change of mind was last reported
	Kinds    []symptom.Kind
	Keys     []Key // of every sign that joined it
	Ended    bool  // put right by a maintenance record
	Hours    bool  // two of its levels agree an hour or so apart, see clocks
}

// Key identifies a sign across minutes.
type Key struct {
	Kind     symptom.Kind
	Pair     gauge.Pair
	Channels uint8
}

// Name is what a finding is called.
type Name struct {
	Cause   cause.Cause
	Suspect cause.Suspect
	Tag     string
}

// Group sorts episodes by what they are about.
type Group uint8

// Groups.
const (
	Levels  Group = iota // the levels contradict each other
	Contact              // a point switch
	Absence              // a signal does not arrive
	Service              // conditions outside the data sheet
	Scatter              // an instrument's noise
)

// Time bookkeeping in seconds.
const (
	minuteSeconds   = 60
	weighSeconds    = 600
	watchQuiet      = 3 * 3600  // a watch without signs ends
	alertQuiet      = 24 * 3600 // an alert without signs ends
	lostWatch       = 5 * 60
	lostAlert       = 24 * 3600
	outsideWatch    = 5 * 60
	outsideAlert    = 60 * 60
	limitWatch      = 3 * 60
	limitAlert      = 60 * 60
	contradictWatch = 10 * 60
	gapInData       = 1800
	nameSure        = 3 * 3600 // a watch that names the chamber, or a clock hours off, for so long is an alert
	skewWatch       = 3        // hourly solutions in a row
	skewAlert       = 10
	rubAlert        = 24
	rubPlainMore    = 3         // what a solution with friction no sound follower has counts more
	rubAlertSteps   = 36        // the same beside a device that sends only changes
	lateLeast       = 2 * 86400 // what is seen of a delay in the first days is not announced
)
