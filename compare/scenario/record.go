package scenario

import (
	"math"
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// Record is what a historian keeps of a gauge: every level instrument on a
// time grid of its own, with what telemetry does to it.
type Record struct {
	Float, Transmitter, Second Column
	MaxAge                     time.Duration // after which a value is too old to be used
	Low, High                  float64       // metres: what lies beyond is not plausible

	Outages float64       // a month: nothing of any instrument ...
	Outage  time.Duration // ... for as long as this at most
	Nights  bool          // nothing is sent for some hours of some nights
	Holds   float64       // a month: the station repeats what it had ...
	Hold    time.Duration // ... for as long as this at most
	Stalls  float64       // a month: one instrument repeats its value for some minutes
	Bursts  float64       // a month: some corrupt values of one instrument in a row
	Missing float64       // share of single values

	Faults []Fault // of the way: TimeSkew with a size of either sign at any instrument
}

// Column is one instrument in a record.
type Column struct {
	Every  time.Duration // between its values; 0: it is not there
	Late   time.Duration // a value is as old as this when it is stamped
	Step   float64       // metres, its resolution
	Noise  float64       // metres, standard deviation of what a single value has for itself
	From   time.Duration // a long time without it begins ...
	Absent time.Duration // ... and lasts
}

// recorded are the parts a record has columns of.
var recorded = [...]partKind{partFloat, partTransmitter, partSecond}

func (r *Record) column(i int) *Column { return [...]*Column{&r.Float, &r.Transmitter, &r.Second}[i] }

// Tape plays a record of a unit row by row.
type Tape struct {
	unit   *Unit
	record Record
	random source

	minute int64         // since the beginning
	ahead  time.Duration // of the unit before the tape, so that a fast clock can be recorded
	past   [tapeLength][len(recorded)]quantity.Reading
	newest gauge.Snapshot
	skew   [len(recorded)][]Fault

	outage, hold, night float64 // minutes left
	stall, burst        [len(recorded)]float64
}

// tapeLength is how many minutes a tape remembers: an hour late on one that is
// an hour ahead.
const tapeLength = 192

// NewTape makes the tape of a unit that stands at its beginning.
func NewTape(u *Unit, r *Record, seed uint64) *Tape {
	t := &Tape{unit: u, record: *r, random: newSource(seed, streamRecord)}
	for _, f := range r.Faults {
		p := findPart(&u.sheet, f.Part)
		for i, kind := range recorded {
			if p.kind == kind {
				t.skew[i] = append(t.skew[i], f)
			}
		}
		t.ahead = max(t.ahead, time.Duration(-f.Size*float64(time.Second)))
	}
	t.keep(0)
	return t
}

// Now is the true time of the newest row.
func (t *Tape) Now() time.Time { return t.unit.start.Add(time.Duration(t.minute) * time.Minute) }

// Next returns the next row in which any instrument has a value.
func (t *Tape) Next() (time.Time, gauge.Snapshot, error) {
	for {
		t.minute++
		if err := t.advance(); err != nil {
			return t.Now(), t.newest, err
		}
		t.happen()
		if t.row() {
			t.age()
			t.newest.Time = t.Now()
			return t.Now(), t.newest, nil
		}
	}
}

// advance brings the unit to where the tape needs it.
func (t *Tape) advance() error {
	for goal := t.Now().Add(t.ahead); t.unit.Now().Before(goal); {
		at := t.unit.Now().Add(time.Minute)
		if _, err := t.unit.Step(at); err != nil {
			return err
		}
		t.keep(int64(at.Sub(t.unit.start) / time.Minute))
	}
	return nil
}

// keep remembers what the instruments say in a minute.
func (t *Tape) keep(minute int64) {
	for i, kind := range recorded {
		t.past[minute%tapeLength][i] = *readingOf(&t.unit.last, part{kind, -1})
	}
}

// happen draws what the telemetry does in this minute.
func (t *Tape) happen() {
	s, r := &t.random, &t.record
	due := func(monthly float64) bool { return s.chance(monthly * perMonth * 60) }
	t.outage, t.hold, t.night = t.outage-1, t.hold-1, t.night-1
	if due(r.Outages) {
		t.outage = s.between(0.02, 1) * r.Outage.Minutes()
	}
	if due(r.Holds) {
		t.hold = s.between(0.05, 1) * r.Hold.Minutes()
	}
	if r.Nights && t.minute%1440 == 960 && s.chance(0.4) {
		t.night = s.between(300, 580)
	}
	for i := range recorded {
		t.stall[i], t.burst[i] = t.stall[i]-1, t.burst[i]-1
		if due(r.Stalls / float64(len(recorded))) {
			t.stall[i] = s.between(5, 20)
		}
		if due(r.Bursts / float64(len(recorded))) {
			t.burst[i] = s.between(1, 30)
		}
	}
}

// row takes the values of this minute and reports whether there was one.
func (t *Tape) row() (any bool) {
	since := time.Duration(t.minute) * time.Minute
	for i, kind := range recorded {
		c := t.record.column(i)
		if c.Every <= 0 || since%c.Every != 0 || c.Absent > 0 && since >= c.From && since < c.From+c.Absent {
			continue
		}
		if t.random.chance(t.record.Missing) || t.outage > 0 || t.night > 0 {
			continue
		}
		read := readingOf(&t.newest, part{kind, -1})
		if (t.hold > 0 || t.stall[i] > 0) && read.Quality.Usable() {
			fresh(read, t.Now())
			any = true
			continue
		}
		if v, there := t.value(i, c, since); there {
			*read = t.plausible(v)
			any = true
		}
	}
	return any
}

// value is what an instrument's column gets in this minute.
func (t *Tape) value(i int, c *Column, since time.Duration) (float64, bool) {
	late := c.Late
	for _, f := range t.skew[i] {
		if since >= f.Delay && (f.For == 0 || since < f.Delay+f.For) {
			late += time.Duration(f.Size * float64(time.Second))
		}
	}
	at := t.minute - int64(late/time.Minute)
	if at < 0 {
		return 0, false
	}
	r := t.past[at%tapeLength][i]
	if !r.Quality.Usable() {
		return 0, false
	}
	v := r.Value + c.Noise*t.random.normal()
	if t.burst[i] > 0 {
		v = t.random.between(t.record.Low-4, t.record.High)
	}
	if c.Step > 0 {
		v = math.Round(v/c.Step) * c.Step
	}
	return v, true
}

// plausible makes the reading of a value as the settings of the record say.
func (t *Tape) plausible(v float64) quantity.Reading {
	r := quantity.Reading{Value: v, Time: t.Now(), Quality: quantity.Good}
	if v < t.record.Low || v > t.record.High {
		r.Quality, r.Reason = quantity.Bad, quantity.OutOfRange
	}
	return r
}

// age makes values stale that are too old.
func (t *Tape) age() {
	for _, kind := range recorded {
		r := readingOf(&t.newest, part{kind, -1})
		if r.Quality > quantity.Stale && t.Now().Sub(r.Time) > t.record.MaxAge {
			r.Quality, r.Reason = quantity.Stale, quantity.TooOld
		}
	}
}
