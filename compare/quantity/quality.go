package quantity

import "fmt"

// Quality says how far a value may be believed. The zero value is Absent, so
// that a forgotten field never looks like a good reading.
type Quality uint8

// The qualities, from nothing to good. They follow the three severities of
// OPC 10000-4 (Good, Uncertain, Bad) with staleness as a state of its own.
const (
	Absent    Quality = iota // no such instrument, or never read
	Bad                      // a value exists but must not be used
	Stale                    // the last value is older than allowed
	Uncertain                // usable, marked
	Good
)

// Usable reports whether a value of this quality may be computed with.
func (q Quality) Usable() bool { return q == Good || q == Uncertain }

var qualityNames = [...]string{"absent", "bad", "stale", "uncertain", "good"}

func (q Quality) String() string {
	if int(q) < len(qualityNames) {
		return qualityNames[q]
	}
	return fmt.Sprintf("quality(%d)", uint8(q))
}

// Reason says why a reading has the quality it has.
type Reason uint8

// The reasons. Add at the end only: they are stored by number.
const (
	NoReason         Reason = iota
	NotRead                 // never read since start
	TooOld                  // no fresh value within the allowed age
	NoAnswer                // the device did not answer in time
	Refused                 // the device answered with an exception or bad status
	NotConnected            // no connection to the source
	NotANumber              // NaN or infinity
	Sentinel                // the device's own "no value" code
	OutOfRange              // outside the range of the signal
	SensorFault             // signal at or beyond a failure limit (NE 43: <= 3.6 or >= 21.0 mA)
	Saturated               // between measuring range and failure limit (NE 43)
	DeviceUncertain         // the device itself says uncertain
	BadShape                // answer of the wrong type or size
	ClockSuspect            // source time implausible
	Maintenance             // chamber isolated or instrument under test
	ConversionFailed        // a physical model refused the value
	Unstable                // value jumps between echoes
	BlindZone               // the surface is where the instrument cannot measure it
)

var reasonNames = [...]string{
	"", "not read yet", "too old", "no answer", "refused by device", "not connected", "not a number",
	"device says no value", "out of range", "sensor fault current", "saturated", "device says uncertain",
	"answer of wrong shape", "clock suspect", "maintenance", "conversion refused", "unstable",
	"in a dead zone of the instrument",
}

func (r Reason) String() string {
	if int(r) < len(reasonNames) {
		return reasonNames[r]
	}
	return fmt.Sprintf("reason(%d)", uint8(r))
}
