package watch

import (
	"math"
	"slices"
	"strconv"
	"sync"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/signal"
	"bridlewatch/compare"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
	"bridlewatch/dashboards"
)

// unit is one gauge under watch: its configuration, its physics and the state
// of its detectors.
type unit struct {
	config config.Gauge
	gauge  *compare.Gauge

	mu    sync.Mutex // held while the state changes or is asked
	state compare.State
	post  post           // what people did since the last step
	past  []compare.Work // what they did in time that is computed again, earliest first

	first    int                            // index of its first sample in a snapshot
	snapshot gauge.Snapshot                 // of the last step
	lines    []line                         // from samples to the snapshot, in the order of config.Signals
	shown    []dashboards.InstrumentReading // what stays the same of them for the pages
	raw      []collector.Sample             // of the last step
	result   compare.Result
	belief   *compare.Belief
	seen     time.Time // newest usable sample of a level instrument
	maxAge   time.Duration
}

func newUnit(g config.Gauge, first int, maxAge time.Duration) (*unit, error) {
	model, err := compare.New(g.Sheet)
	if err != nil {
		return nil, err
	}
	u := &unit{config: g, gauge: model, first: first, maxAge: maxAge, raw: make([]collector.Sample, len(g.Signals))}
	for i := range g.Signals {
		sig := &g.Signals[i]
		u.lines = append(u.lines, line{spec: &sig.Spec, delay: sig.Delay, reading: ReadingOf(&u.snapshot, sig), level: isLevel(sig.Role), found: nothing})
		u.shown = append(u.shown, dashboards.InstrumentReading{
			Tag: sig.Tag, Role: dashboards.Role(sig.Role), Unit: RawUnit(sig), SI: Unit(&u.config.Sheet, sig),
		})
	}
	return u, nil
}

// take copies the unit's samples out of a snapshot.
func (u *unit) take(samples []collector.Sample) {
	copy(u.raw, samples[u.first:])
}

// lend is take without a copy, for samples that stay as they are until the
// next ones come.
func (u *unit) lend(samples []collector.Sample) {
	u.raw = samples[u.first : u.first+len(u.lines)]
}

// line takes the samples of one signal to its reading in the snapshot.
type line struct {
	spec    *signal.Spec
	delay   time.Duration
	reading *quantity.Reading
	level   bool
	found   found // what the reading was converted from
}

// convert makes the reading of a raw one. One like that before says what that
// said.
func (l *line) convert(raw *quantity.Reading) {
	r := l.reading
	r.Time = raw.Time
	if l.delay > 0 {
		r.Time = raw.Time.Add(-l.delay)
	}
	if now := (found{math.Float64bits(raw.Value), raw.Quality, raw.Reason}); now != l.found {
		l.found = now
		r.Value, r.Quality, r.Reason = l.spec.ConvertValue(raw.Value, raw.Quality, raw.Reason)
	}
}

// found is a raw value with its quality, every bit of it.
type found struct {
	value   uint64
	quality quantity.Quality
	reason  quantity.Reason
}

// nothing is no raw value: there is no such quality.
var nothing = found{quality: math.MaxUint8}

// evaluate is step for a unit that others may ask meanwhile.
func (u *unit) evaluate(now time.Time) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.step(now)
	u.belief = u.gauge.Believe(&u.snapshot, &u.state, &u.result)
}

// step compares the samples taken. The caller holds u.mu.
func (u *unit) step(now time.Time) {
	for i := range u.lines {
		raw := u.raw[i].Raw()
		u.hear(i, &raw)
	}
	u.compare(now)
}

// hear takes what a signal says.
func (u *unit) hear(i int, raw *quantity.Reading) {
	l := &u.lines[i]
	l.convert(raw)
	if l.level && l.reading.Quality.Usable() && raw.Time.After(u.seen) {
		u.seen = raw.Time
	}
}

// compare compares what was heard; what the unit has no signal for stays absent.
func (u *unit) compare(now time.Time) {
	u.snapshot.Time = now
	u.maintain(now)
	u.gauge.EvaluateTo(now, &u.snapshot, &u.state, &u.result)
}

// ReadingOf returns where the reading of a signal belongs in a snapshot. The
// configuration has checked role and index.
func ReadingOf(s *gauge.Snapshot, sig *config.Signal) *quantity.Reading {
	return s.Of(string(sig.Role), sig.Point)
}

func isLevel(r config.Role) bool {
	return r == config.RoleFloat || r == config.RoleTransmitter || r == config.RoleSecond
}

// RawUnit names the unit of the raw value of a signal: what a register counts,
// not what the converted value is in.
func RawUnit(sig *config.Signal) string {
	unit := map[signal.Kind]string{signal.Current: "mA", signal.Voltage: "V", signal.Pt100: "ohm"}[sig.Spec.Kind]
	switch {
	case sig.Spec.Kind == signal.Counts:
		return "counts"
	case sig.Spec.Kind == signal.Contact:
		return ""
	case unit == "":
		return sig.Unit
	case unit == "mA" && sig.Spec.RawScale == 1e-3:
		return "µA"
	case sig.Spec.RawScale != 0 && sig.Spec.RawScale != 1:
		return "× " + strconv.FormatFloat(sig.Spec.RawScale, 'g', -1, 64) + " " + unit
	}
	return unit
}

// Unit names the unit of the converted value of a signal.
func Unit(s *datasheet.Sheet, sig *config.Signal) string {
	switch sig.Role {
	case config.RolePoint:
		return ""
	case config.RolePressure:
		return "Pa"
	case config.RoleTemperature, config.RoleChamberTemperature:
		return "K"
	case config.RoleDensity:
		return "kg/m3"
	case config.RoleTransmitter:
		return transmitterUnit(s.Transmitter)
	case config.RoleSecond:
		return transmitterUnit(s.Second)
	}
	return "m"
}

// transmitterUnit follows datasheet.Transmitter: an uncompensated dp gives
// pascals, an uncalibrated displacer newtons, everything else a level.
func transmitterUnit(t *datasheet.Transmitter) string {
	switch {
	case t == nil || t.Compensated:
		return "m"
	case t.Principle == datasheet.DPWet || t.Principle == datasheet.DPDry || t.Principle == datasheet.DPSeals:
		return "Pa"
	case t.Principle == datasheet.Displacer && t.CalibratedFor == 0:
		return "N"
	}
	return "m"
}

// view is the unit as the pages see it, independent of the unit from then on.
func (u *unit) view(now time.Time) dashboards.GaugeView {
	v := dashboards.GaugeView{
		Sheet: &u.config.Sheet, Result: clone(u.result), LastSample: u.seen, MaxAge: u.maxAge, Belief: u.belief,
		Readings: slices.Clone(u.shown),
	}
	for i := range v.Readings {
		r, raw, value := &v.Readings[i], &u.raw[i], u.lines[i].reading
		r.Raw, r.Age = raw.Value, age(now, raw.Time)
		r.Value, r.Quality, r.Reason = value.Value, value.Quality, value.Reason
		if raw.Detail != "" && v.Trouble == "" && !value.Usable() {
			v.Trouble = r.Tag + ": " + raw.Detail
		}
	}
	return v
}

// clone copies a result so that it does not change with the next evaluation.
func clone(r compare.Result) compare.Result {
	r.Verdicts = slices.Clone(r.Verdicts)
	r.Findings = slices.Clone(r.Findings)
	r.Opened, r.Upgraded, r.Revised, r.Closed = nil, nil, nil, nil
	return r
}

func age(now, then time.Time) time.Duration {
	if then.IsZero() {
		return 0
	}
	return now.Sub(then)
}
