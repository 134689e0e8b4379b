package scenario

import (
	"math"
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// Events are what people and processes do to a healthy gauge, in times a
// month. They come at random.
type Events struct {
	BlowDowns  float64 // the chamber is isolated, drained and put back within half an hour
	Recorded   float64 // share of blow-downs that somebody wrote down beforehand
	Excursions float64 // the level goes to or beyond a tap for a while
	Restarts   float64 // the data path repeats old values for some minutes
	Retunings  float64 // the level control is tuned: it wanders more, or less
	Adjusted   float64 // the transmitter is calibrated and left up to 3 mm from where it was
}

// happening is the state of the events of one unit.
type happening struct {
	events Events
	random source

	drain      float64 // seconds the chamber stays drained
	putBack    float64 // seconds until the record of it is closed
	recorded   bool
	excursion  float64 // seconds the level stays beyond a tap
	beyond     float64 // share of the height it goes to
	shift      float64 // metres the excursion has moved the level
	repeat     float64 // seconds old values are repeated
	repeated   gauge.Snapshot
	restless   float64 // factor on the wander
	calibrated float64 // metres the transmitter was left from where it was
}

func newHappening(e Events, seed uint64) happening {
	return happening{events: e, random: newSource(seed, streamEvents), restless: 1}
}

// step draws what happens in dt seconds.
func (h *happening) step(dt, level, height float64) {
	if h.events == (Events{}) {
		return
	}
	s := &h.random
	h.drain, h.putBack, h.excursion, h.repeat = h.drain-dt, h.putBack-dt, h.excursion-dt, h.repeat-dt
	due := func(perMonthOf float64) bool { return s.chance(perMonthOf * perMonth * dt) }
	if due(h.events.BlowDowns) && h.putBack <= 0 {
		h.drain = s.between(300, 1200)
		h.putBack, h.recorded = h.drain+600, s.chance(h.events.Recorded)
	}
	if due(h.events.Excursions) && h.excursion <= 0 {
		h.excursion, h.beyond = s.between(1200, 7200), 1.02
		if s.chance(0.5) {
			h.beyond = -0.02
		}
	}
	if due(h.events.Restarts) {
		h.repeat = s.between(120, 600)
	}
	if due(h.events.Retunings) {
		h.restless = s.between(0.5, 2)
	}
	if due(h.events.Adjusted) {
		h.calibrated = s.between(-3e-3, 3e-3)
	}
	h.excurse(dt, level, height)
}

// excurse moves the level towards the tap at 15 mm a minute and back again.
func (h *happening) excurse(dt, level, height float64) {
	goal := 0.0
	if h.excursion > 0 {
		goal = h.beyond*height - level
	}
	reach := 15 * millimetrePerMinute * dt
	h.shift += math.Min(math.Max(goal-h.shift, -reach), reach)
}

// drained reports whether the chamber is drained now.
func (h *happening) drained() bool { return h.drain > 0 }

// isolated reports whether a record says that the chamber is isolated.
func (h *happening) isolated() bool { return h.recorded && h.putBack > 0 }

// cache is a data path that has just been restarted and repeats what it had,
// or keeps what it has now.
func (h *happening) cache(s *gauge.Snapshot) {
	if h.repeat <= 0 || h.repeated.Time.IsZero() {
		h.repeated = *s
		return
	}
	at := s.Time
	*s = h.repeated
	s.Time = at
	for kind := partFloat; kind <= partVessel; kind++ {
		if kind != partPoint {
			fresh(readingOf(s, part{kind, -1}), at)
		}
	}
	for i := range s.Points {
		fresh(&s.Points[i], at)
	}
}

// fresh gives an old value a new time, as a gateway does that answers from its
// memory.
func fresh(r *quantity.Reading, at time.Time) {
	if r.Quality != quantity.Absent {
		r.Time = at
	}
}
