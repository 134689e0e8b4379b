// Package verdicts lets a control system read what bridlewatch makes of each
// gauge, from input registers of a small Modbus TCP server that only answers
// reads. It is off unless the configuration gives it an address.
//
// The control system must treat what it reads as information for people. It is
// not a safety function, and no trip or interlock may rest on it.
//
// Register map, version 1. All values are in input registers (function code
// 4), unit id 1, addresses counted from zero; float32 is big-endian (ABCD) and
// not-a-number where there is no value.
//
//	0      version of this map
//	1      heartbeat: moves on with every scan; a reader that sees it stand
//	       still for three scans must take every verdict as not seen
//	2      number of gauges
//	16+16n gauge n in the order of the configuration:
//	       see Fields
package verdicts

import (
	"math"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/dashboards/plant"
)

// The map, for those who print it.
const (
	Version   = 1
	UnitID    = 1
	Head      = 16 // registers before the first gauge
	PerGauge  = 16
	neverSeen = math.MaxUint16
)

// Field is one value within the registers of a gauge.
type Field struct {
	Offset  int
	Meaning string
}

// Fields lists the values within the registers of a gauge.
func Fields() []Field {
	return []Field{
		{0, "category: 0 not seen, 1 good, 2 maintenance required, 3 out of specification, 4 function check, 5 failure"},
		{1, "suspect: 0 none, 1 float, 2 follower, 3 transmitter, 4 point, 5 chamber, 6 density, 7 clock, 8 signal, 9 service, 10 undecided"},
		{2, "tier: 0 none, 1 watch, 2 alert"},
		{3, "float and transmitter: 0 cannot tell, 1 agree, 2 disagree"},
		{4, "level in the chamber by the float, mm above the lower tap, float32"},
		{6, "level in the chamber by the transmitter, mm, float32"},
		{8, "gap float - transmitter, mm, float32"},
		{10, "what the gap may be, mm, float32"},
		{12, "age of the newest usable level sample, s; 65535: never, or more"},
	}
}

var suspects = map[cause.Suspect]uint16{
	cause.Float: 1, cause.Follower: 2, cause.Transmitter: 3, cause.Point: 4, cause.Chamber: 5,
	cause.Density: 6, cause.Clock: 7, cause.Signal: 8, cause.Service: 9, cause.Undecided: 10,
}

var tiers = map[cause.Tier]uint16{cause.Watch: 1, cause.Alert: 2}

var outcomes = map[compare.Outcome]uint16{compare.CannotTell: 0, compare.Agree: 1, compare.Disagree: 2}

// Address is where the registers of gauge n begin.
func Address(n int) int { return Head + PerGauge*n }

// image is the registers of one moment.
func image(beat uint16, now time.Time, gauges []plant.GaugeView) []uint16 {
	regs := make([]uint16, Address(len(gauges)))
	regs[0], regs[1], regs[2] = Version, beat, uint16(len(gauges))
	for n := range gauges {
		fill(regs[Address(n):Address(n)+PerGauge], now, &gauges[n])
	}
	return regs
}

func fill(r []uint16, now time.Time, g *plant.GaugeView) {
	category := g.Category(now)
	r[0] = uint16(plant.Number(category))
	r[12] = ageOf(now, g.LastSample)
	float(r[4:], 0, false)
	float(r[6:], 0, false)
	float(r[8:], 0, false)
	float(r[10:], 0, false)
	if category == compare.NotSeenCategory {
		return // old numbers would look like new ones
	}
	if len(g.Result.Findings) > 0 {
		worst := g.Result.Findings[0]
		r[1], r[2] = suspects[worst.Suspect], tiers[worst.Tier]
	}
	for _, v := range g.Result.Verdicts {
		if v.Point < 0 && v.Pair == gauge.FloatTransmitter {
			r[3] = outcomes[v.Outcome]
		}
	}
	m := &g.Result.Measurement
	levelTo(r[4:], &m.Float)
	levelTo(r[6:], &m.Transmitter)
	gap := m.Gaps[gauge.FloatTransmitter]
	float(r[8:], gap.Value.Millimetres(), gap.OK)
	float(r[10:], gap.Budget.Millimetres(), gap.OK)
}

func levelTo(r []uint16, l *level.Level) { float(r, l.Value.Millimetres(), l.OK()) }

// float writes a float32, or not-a-number.
func float(r []uint16, v float64, ok bool) {
	if !ok {
		v = math.NaN()
	}
	bits := math.Float32bits(float32(v))
	r[0], r[1] = uint16(bits>>16), uint16(bits)
}

func ageOf(now, then time.Time) uint16 {
	if then.IsZero() {
		return neverSeen
	}
	return uint16(min(max(now.Sub(then).Seconds(), 0), neverSeen))
}
