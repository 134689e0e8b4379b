package records

import (
	"bridlewatch/compare"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/drawing"
	"bridlewatch/dashboards/units"
)

// SceneOf returns what the drawing of a record shows, from what the record
// itself holds; ok is false when it holds no drawing.
func SceneOf(r *record.Record, set units.Set) (s drawing.Scene, ok bool) {
	p := r.Picture
	if p == nil || r.Sheet == nil {
		return s, false
	}
	s = drawing.Scene{Sheet: r.Sheet, Now: p.At, Units: set, Result: compare.Result{Gauge: r.Gauge, Time: p.At}}
	m := &s.Result.Measurement
	m.Time, m.Isolated = p.At, p.Isolated
	setLevel(&m.Float, p.Float, level.Follower)
	setLevel(&m.Transmitter, p.Transmitter, level.TransmitterDevice)
	setLevel(&m.Second, p.Second, level.SecondDevice)
	for i, state := range p.Points {
		if i == len(m.Points) {
			break
		}
		switch state {
		case gauge.Wet.String():
			m.Points[i] = gauge.Wet
		case gauge.Dry.String():
			m.Points[i] = gauge.Dry
		}
	}
	if p.Magnet != nil && p.Liquid > 0 {
		if now, built, swims := drawing.Immersions(r.Sheet, p.Liquid, p.Gas); swims {
			s.Float = &drawing.Float{Bottom: *p.Magnet - built, Immersion: now, BuiltFor: built}
		}
	}
	return s, true
}

func setLevel(l *level.Level, mark *record.Mark, input level.Input) {
	if mark == nil {
		return
	}
	l.Value, l.Bound = mark.Value, level.Within
	l.Parts[input] = float64(mark.U)
}
