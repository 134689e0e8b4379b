package watch

import (
	"context"
	"fmt"

	"bridlewatch/collector/store"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
)

// derived is one series computed for a gauge. Name and unit are a contract
// with the pages and the central store.
type derived struct {
	name, unit string
	has        func(*datasheet.Sheet) bool
	get        func(*gauge.Measurement) (float64, bool)
}

var (
	hasFloat       = func(s *datasheet.Sheet) bool { return s.Float.Follower != datasheet.NoFollower }
	hasTransmitter = func(s *datasheet.Sheet) bool { return s.Transmitter != nil }
	hasSecond      = func(s *datasheet.Sheet) bool { return s.Second != nil }
	hasVessel      = func(s *datasheet.Sheet) bool { return s.Vessel != nil }
	hasAny         = func(*datasheet.Sheet) bool { return true }
)

func both(a, b func(*datasheet.Sheet) bool) func(*datasheet.Sheet) bool {
	return func(s *datasheet.Sheet) bool { return a(s) && b(s) }
}

// derivedSeries lists every series a gauge may have beside its raw signals and
// its points.
var derivedSeries = []derived{
	{"level.float", "m", hasFloat, value(func(m *gauge.Measurement) *level.Level { return &m.Float })},
	{"level.transmitter", "m", hasTransmitter, value(func(m *gauge.Measurement) *level.Level { return &m.Transmitter })},
	{"level.second", "m", hasSecond, value(func(m *gauge.Measurement) *level.Level { return &m.Second })},
	{"level.vessel", "m", hasVessel, value(func(m *gauge.Measurement) *level.Level { return &m.Vessel })},
	{"level.in-vessel", "m", hasAny, value(func(m *gauge.Measurement) *level.Level { return &m.InVessel })},
	{"u.float", "m", hasFloat, uncertainty(func(m *gauge.Measurement) *level.Level { return &m.Float })},
	{"u.transmitter", "m", hasTransmitter, uncertainty(func(m *gauge.Measurement) *level.Level { return &m.Transmitter })},
	{"gap.float-transmitter", "m", both(hasFloat, hasTransmitter), gap(gauge.FloatTransmitter)},
	{"budget.float-transmitter", "m", both(hasFloat, hasTransmitter), budget(gauge.FloatTransmitter)},
	{"gap.vessel-transmitter", "m", both(hasVessel, hasTransmitter), gap(gauge.VesselTransmitter)},
	{"gap.vessel-float", "m", both(hasVessel, hasFloat), gap(gauge.VesselFloat)},
	{"gap.float-second", "m", both(hasFloat, hasSecond), gap(gauge.FloatSecond)},
	{"gap.transmitter-second", "m", both(hasTransmitter, hasSecond), gap(gauge.TransmitterSecond)},
	{"gap.vessel-second", "m", both(hasVessel, hasSecond), gap(gauge.VesselSecond)},
	{"density.liquid", "kg/m3", hasAny, func(m *gauge.Measurement) (float64, bool) { return float64(m.Liquid), m.DensityOK }},
}

func value(of func(*gauge.Measurement) *level.Level) func(*gauge.Measurement) (float64, bool) {
	return func(m *gauge.Measurement) (float64, bool) { l := of(m); return float64(l.Value), l.OK() }
}

func uncertainty(of func(*gauge.Measurement) *level.Level) func(*gauge.Measurement) (float64, bool) {
	return func(m *gauge.Measurement) (float64, bool) { l := of(m); return float64(l.U()), l.OK() }
}

func gap(p gauge.Pair) func(*gauge.Measurement) (float64, bool) {
	return func(m *gauge.Measurement) (float64, bool) { return float64(m.Gaps[p].Value), m.Gaps[p].OK }
}

func budget(p gauge.Pair) func(*gauge.Measurement) (float64, bool) {
	return func(m *gauge.Measurement) (float64, bool) { return float64(m.Gaps[p].Budget), m.Gaps[p].OK }
}

// recorder turns what the units saw into scans for the store. Every scan of
// one kind has the same series in the same order, present or not.
type recorder struct {
	tracks []track // by unit
}

// track is one unit with the numbers of its series.
type track struct {
	raw     []store.ID // by signal
	levels  []store.ID // by derived
	points  []store.ID // by point switch
	derived []derived  // those the gauge can have
}

// computed is the number of values a scan of the unit has beside its samples.
func (t *track) computed() int { return len(t.derived) + len(t.points) }

// newRecorder registers every series of the units.
func newRecorder(ctx context.Context, s store.Store, units []*unit) (*recorder, error) {
	r := &recorder{}
	for _, u := range units {
		sheet := &u.config.Sheet
		var t track
		var series []store.Series
		for i := range u.config.Signals {
			sig := &u.config.Signals[i]
			series = append(series, rawSeries(sheet.Tag, sig))
		}
		for _, d := range derivedSeries {
			if d.has(sheet) {
				t.derived = append(t.derived, d)
				series = append(series, store.Series{Gauge: sheet.Tag, Name: d.name, Class: store.Derived, Unit: d.unit})
			}
		}
		for _, p := range sheet.Points {
			series = append(series, store.Series{Gauge: sheet.Tag, Name: "point." + p.Tag, Class: store.Derived})
		}
		ids, err := s.Register(ctx, series)
		if err != nil {
			return nil, fmt.Errorf("register series of gauge %s: %w", sheet.Tag, err)
		}
		n := len(u.config.Signals)
		m := n + len(t.derived)
		t.raw, t.levels, t.points = ids[:n], ids[n:m], ids[m:]
		r.tracks = append(r.tracks, t)
	}
	return r, nil
}

// rawSeries is the series of the samples of a signal as they came.
func rawSeries(tag string, sig *config.Signal) store.Series {
	return store.Series{Gauge: tag, Name: sig.Tag, Class: store.Raw, Unit: RawUnit(sig)}
}

// rawValues appends the samples of unit k as they came, before any conversion.
func (r *recorder) rawValues(dst []store.Value, k int, u *unit) []store.Value {
	for i, id := range r.tracks[k].raw {
		s := &u.raw[i]
		dst = append(dst, store.Value{ID: id, Value: s.Value, Quality: uint8(s.Quality), Reason: uint8(s.Reason), Source: s.SourceTime})
	}
	return dst
}

// levelValues appends what was computed for unit k. What has no value now is
// Absent, so that a trend shows a gap and no number.
func (r *recorder) levelValues(dst []store.Value, k int, u *unit) []store.Value {
	m, t := &u.result.Measurement, &r.tracks[k]
	for i, d := range t.derived {
		v, ok := d.get(m)
		dst = append(dst, present(t.levels[i], store.Resolved(d.unit, v), ok))
	}
	for i, id := range t.points {
		dst = append(dst, present(id, wet(m.Points[i]), m.Points[i] != gauge.Unknown))
	}
	return dst
}

func present(id store.ID, v float64, ok bool) store.Value {
	if !ok {
		return store.Value{ID: id}
	}
	return store.Value{ID: id, Value: v, Quality: uint8(quantity.Good)}
}

func wet(s gauge.Switch) float64 {
	if s == gauge.Wet {
		return 1
	}
	return 0
}
