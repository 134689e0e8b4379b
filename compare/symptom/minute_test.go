package symptom_test

import (
	"testing"
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// A level at a tap parts from another by at least what lies between them, and
// says nothing of one on the far side.
func TestGapFromATap(t *testing.T) {
	at := func(mm float64) level.Level {
		return level.Level{Value: quantity.Length(mm / 1e3), Bound: level.Within}
	}
	tap := func(mm float64, bound level.Bound) level.Level {
		return level.Level{AtTap: quantity.Length(mm / 1e3), Bound: bound}
	}
	for _, r := range []struct {
		name                string
		vessel, transmitter level.Level
		gap                 float64
		has                 bool
	}{
		{"vessel full, chamber below", tap(756, level.AboveUpperTap), at(700), 56, true},
		{"vessel full, chamber as full as it gets", tap(756, level.AboveUpperTap), at(768), 0, false},
		{"vessel empty, chamber above", tap(3, level.BelowLowerTap), at(40), -37, true},
		{"vessel empty, chamber below", tap(3, level.BelowLowerTap), at(1), 0, false},
		{"vessel within, transmitter full", at(700), tap(800, level.AboveUpperTap), -100, true},
		{"both full", tap(756, level.AboveUpperTap), tap(800, level.AboveUpperTap), 0, false},
		{"vessel silent", level.Level{}, at(700), 0, false},
	} {
		t.Run(r.name, func(t *testing.T) {
			var c symptom.Compressor
			var b symptom.Block
			now := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
			for i := range 5 {
				scan := now.Add(time.Duration(i) * 30 * time.Second)
				good := quantity.Reading{Quality: quantity.Good, Time: scan}
				in := gauge.Snapshot{Time: scan, Vessel: good, Transmitter: good}
				m := gauge.Measurement{Vessel: r.vessel, Transmitter: r.transmitter}
				c.Add(scan.Unix(), &in, &m, &b)
			}
			p := gauge.VesselTransmitter
			if d := b.Gap[p] - r.gap; b.HasGap[p] != r.has || d > 1e-6 || d < -1e-6 {
				t.Errorf("gap %.1f mm (%t), want %.1f (%t)", b.Gap[p], b.HasGap[p], r.gap, r.has)
			}
		})
	}
}

// The pace of a source is the shortest time between its readings: one that sends a
// value every quarter of an hour holds old values, one that sends what changed
// holds what still is.
func TestHeldValueCountsByThePaceOfItsSource(t *testing.T) {
	const silent = 1080 // minutes of readings, then hours without
	for _, r := range []struct {
		name  string
		fresh func(minute int) bool
		want  int // minutes from the newest reading until it counts once more
	}{
		{"every quarter of an hour", func(m int) bool { return m%15 == 0 }, 22},
		{"what changed", func(m int) bool { return m%15 < 2 }, 10},
		{"every minute until yesterday", func(m int) bool { return m < 60 || m%15 == 0 }, 15},
		{"once an hour", func(m int) bool { return m%60 == 0 }, 10},
	} {
		var c symptom.Compressor
		var b symptom.Block
		start := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
		last, again := start, 0
		for m := range silent + 120 {
			now := start.Add(time.Duration(m) * time.Minute)
			if m < silent && r.fresh(m) {
				last, again = now, 0
			}
			in := gauge.Snapshot{Time: now, Float: quantity.Reading{Quality: quantity.Good, Time: last}}
			measured := gauge.Measurement{Float: level.Level{Value: 0.5, Bound: level.Within}}
			closed := c.Add(now.Unix(), &in, &measured, &b)
			if age := int(b.At-last.Unix()) / 60; closed && again == 0 && age > 1 && b.Has[symptom.FloatLevel] {
				again = age
			}
		}
		if again < r.want || again > r.want+1 {
			t.Errorf("%s: a held value counted once more after %d minutes, want %d", r.name, again, r.want)
		}
	}
}
