package symptom

import "bridlewatch/compare/gauge"

// Channel is one continuous level of a gauge.
type Channel uint8

// Channels.
const (
	FloatLevel Channel = iota
	TransmitterLevel
	SecondLevel
	VesselLevel
	Channels // number of channels
)

func (c Channel) String() string {
	return [...]string{"float", "transmitter", "second transmitter", "vessel level"}[c]
}

// Members are the two channels of a pair; the gap is the first minus the second.
var members = [gauge.Pairs][2]Channel{
	gauge.FloatTransmitter:  {FloatLevel, TransmitterLevel},
	gauge.VesselTransmitter: {VesselLevel, TransmitterLevel},
	gauge.VesselFloat:       {VesselLevel, FloatLevel},
	gauge.FloatSecond:       {FloatLevel, SecondLevel},
	gauge.TransmitterSecond: {TransmitterLevel, SecondLevel},
	gauge.VesselSecond:      {VesselLevel, SecondLevel},
}

// Members returns the two channels of a pair; its gap is the first minus the
// second.
func Members(p gauge.Pair) (first, second Channel) { return members[p][0], members[p][1] }
