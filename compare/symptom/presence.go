package symptom

import (
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// Signal numbers the signals of a gauge: the channels first, then the
// conditions, then the points.
type Signal uint8

// Signals.
const (
	FloatSignal Signal = iota
	TransmitterSignal
	SecondSignal
	VesselSignal
	PressureSignal
	TemperatureSignal
	ChamberTemperatureSignal
	DensitySignal
	PointSignal                                     // of the first point
	Signals     = PointSignal + datasheet.MaxPoints // number of signals
)

func (s Signal) String() string {
	if s >= PointSignal {
		return "point switch"
	}
	return [...]string{"float", "transmitter", "second transmitter", "vessel level", "pressure", "temperature",
		"chamber temperature", "densitometer"}[s]
}

// Presence watches whether signals arrive and conditions stay inside the data
// sheet. The zero value is ready.
type Presence struct {
	LostSince    [Signals]int64 // Unix seconds; 0: the signal is there
	Lost         [Signals]quantity.Reason
	LimitSince   [Channels]int64 // saturated, or at a tap while the others are well inside
	LimitStamp   [Channels]int64 // Unix milliseconds of the newest reading that was so
	LimitSeen    [Channels]uint8 // different readings in a row that were so
	OutsideSince int64           // a condition outside the data sheet
	Outside      string          // what
	OutsideText  string          // the sentence for it
	Grave        bool            // a limit of strength or buoyancy, not of accuracy
}

// Reading returns the reading of a signal.
func Reading(in *gauge.Snapshot, s Signal) *quantity.Reading {
	switch s {
	case FloatSignal:
		return &in.Float
	case TransmitterSignal:
		return &in.Transmitter
	case SecondSignal:
		return &in.Second
	case VesselSignal:
		return &in.Vessel
	case PressureSignal:
		return &in.Pressure
	case TemperatureSignal:
		return &in.Temperature
	case ChamberTemperatureSignal:
		return &in.ChamberTemperature
	case DensitySignal:
		return &in.Density
	}
	return &in.Points[s-PointSignal]
}

// Add folds one scan; fitted are the signals the gauge has and top is the
// distance between the taps.
func (p *Presence) Add(at int64, fitted []Signal, in *gauge.Snapshot, m *gauge.Measurement, top quantity.Length) {
	for _, s := range fitted {
		r := Reading(in, s)
		if r.Quality.Usable() {
			p.LostSince[s], p.Lost[s] = 0, quantity.NoReason
			continue
		}
		p.Lost[s] = r.Reason
		if p.LostSince[s] == 0 {
			p.LostSince[s] = at
		}
	}
	p.limit(at, TransmitterLevel, &in.Transmitter, &m.Transmitter, top, &m.Float, &m.Vessel)
	p.limit(at, SecondLevel, &in.Second, &m.Second, top, &m.Float, &m.Transmitter)
	p.limit(at, FloatLevel, &in.Float, &m.Float, top, &m.Transmitter, &m.Vessel)
	p.outside(at, m)
}

// AtLimit reports whether a channel stands at the end of its range: by three
// readings at least, by one that is held for a quarter of an hour, or for an
// hour where readings are minutes apart.
func (p *Presence) AtLimit(c Channel, at, least int64) bool {
	since := p.LimitSince[c]
	if since == 0 {
		return false
	}
	lasts := at - since
	if seen := int64(p.LimitSeen[c]); seen > 1 && lasts/(seen-1) > 120 {
		return lasts >= 3600 // minutes apart: corrupt readings come in bursts
	}
	return p.LimitSeen[c] >= 3 && lasts >= least || lasts >= max(least, 900)
}

// farFromEnd is how far a witness must be from the end another stands at to
// contradict it.
const farFromEnd = 80 * quantity.Millimetre

// limit says that an instrument stands at the end of its range while a witness
// sees the level far from it. A level truly beyond a tap is no fault.
func (p *Presence) limit(at int64, c Channel, r *quantity.Reading, own *level.Level, top quantity.Length, one, other *level.Level) {
	saturated := r.Reason == quantity.Saturated && r.Quality != quantity.Absent
	if !saturated && own.Bound != level.BelowLowerTap && own.Bound != level.AboveUpperTap {
		p.LimitSince[c], p.LimitSeen[c] = 0, 0
		return
	}
	contradicted, confirmed := false, false
	for _, w := range [...]*level.Level{one, other} {
		switch {
		case w.Bound == level.None:
		case !w.OK():
			confirmed = confirmed || w.Bound == own.Bound || saturated
		case own.Bound == level.AboveUpperTap, saturated && !own.OK():
			contradicted = contradicted || w.Value < top-farFromEnd
		case own.Bound == level.BelowLowerTap:
			contradicted = contradicted || w.Value > farFromEnd
		case saturated:
			contradicted = contradicted || w.Value < top-farFromEnd && w.Value > farFromEnd
		}
	}
	if !contradicted || confirmed {
		p.LimitSince[c], p.LimitSeen[c] = 0, 0
		return
	}
	if p.LimitSince[c] == 0 {
		p.LimitSince[c] = at
	}
	if s := stamp(r, at); s != p.LimitStamp[c] && p.LimitSeen[c] < 255 {
		p.LimitStamp[c] = s
		p.LimitSeen[c]++
	}
}

func (p *Presence) outside(at int64, m *gauge.Measurement) {
	var l gauge.Limit
	for _, x := range m.OutsideDataSheet {
		if x.What == floatReserve && m.FloatReserve >= leastReserve {
			continue // little reserve by design is a matter for the data sheet
		}
		if l.What == "" || grave(x.What) && !grave(l.What) {
			l = x
		}
	}
	if l.What == "" {
		p.OutsideSince = 0
		return
	}
	if p.OutsideSince == 0 || p.Outside != l.What {
		p.OutsideSince, p.Outside, p.OutsideText, p.Grave = at, l.What, l.Sentence, grave(l.What)
	}
}

const (
	floatReserve = "float reserve"
	leastReserve = 1.05 // liquid density over the density at which the float sinks
)

func grave(what string) bool {
	return what == "pressure" || what == "temperature" || what == floatReserve
}
