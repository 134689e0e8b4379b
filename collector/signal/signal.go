// Package signal turns a raw value (register, milliamperes, ohms, contact)
// into an engineering quantity in SI units with a quality and a reason. It is
// pure: no I/O, no clock.
package signal

// Kind is the nature of the raw signal.
type Kind string

// Kinds.
const (
	Value   Kind = "value"   // already a number in a unit
	Current Kind = "current" // milliamperes, 4-20 mA with the limits of NAMUR NE 43
	Voltage Kind = "voltage" // volts, 1-5 V
	Counts  Kind = "counts"  // converter counts between Raw[0] and Raw[1]
	Pt100   Kind = "pt100"   // ohms, IEC 60751
	Contact Kind = "contact" // 0 or 1
)

// Spec says how to convert one signal. Range and Offset are in the SI unit of
// the quantity; the raw limits are in the unit of the signal.
type Spec struct {
	Kind   Kind
	Raw    [2]float64 // counts: raw at Range[0] and Range[1]
	Range  [2]float64 // engineering value at the low and high end of the signal; for Value: scale factor and offset are used instead
	Scale  float64    // value: SI = raw*Scale + Offset; 0 means 1
	Offset float64
	Invert bool // contact: 0 means wet
	// Sentinels are raw values by which the device says "no value".
	Sentinels []float64
	// Low and High are plausibility limits in SI; used when High > Low.
	Low, High float64
}
