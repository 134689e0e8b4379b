package scenario

import (
	"time"

	"bridlewatch/compare/gauge"
)

// Feed is a unit seen through its data path: scans at their interval or
// untidily, with repeated and belated snapshots and a clock that steps.
type Feed struct {
	unit   *Unit
	every  time.Duration
	untidy bool
	random source

	at      time.Time // true time of the newest scan
	scan    float64   // seconds between scans today
	day     float64
	offset  float64 // seconds the reader's clock is wrong
	correct float64 // seconds until somebody sets it right
	older   [3]gauge.Snapshot
}

// NewFeed reads a unit every so often. A unit whose Service is Irregular is
// read untidily: ten to sixty seconds apart, some snapshots twice, some late,
// by a clock that is set wrong by thirty seconds now and then and by an hour
// twice a year.
func NewFeed(u *Unit, every time.Duration, seed uint64) *Feed {
	return &Feed{
		unit: u, every: every, untidy: u.world.weather.service.Irregular, random: newSource(seed, streamFeed),
		at: u.Now(), scan: every.Seconds(),
	}
}

// Next advances the unit by one scan and returns what the reader sees, with
// the time on the reader's clock.
func (f *Feed) Next() (time.Time, gauge.Snapshot, error) {
	if !f.untidy {
		f.at = f.at.Add(f.every)
		s, err := f.unit.Step(f.at)
		return f.at, s, err
	}
	s, err := f.scanOnce()
	now := s.Time
	switch {
	case f.random.chance(0.004): // sent twice
		s = f.older[1]
	case f.random.chance(0.002): // overtaken
		s = f.older[2]
	}
	return now, s, err
}

func (f *Feed) scanOnce() (gauge.Snapshot, error) {
	dt := f.scan * f.random.between(0.8, 1.2)
	if f.day -= dt; f.day <= 0 {
		f.day = secondsPerDay
		f.scan = [...]float64{10, 30, 60}[f.random.next()%3]
	}
	f.at = f.at.Add(time.Duration(dt * float64(time.Second)))
	s, err := f.unit.Step(f.at)
	f.clock(dt)
	s.Time = f.at.Add(time.Duration(f.offset * float64(time.Second)))
	f.older[2], f.older[1], f.older[0] = f.older[1], f.older[0], s
	return s, err
}

// clock sets the reader's clock wrong and right again.
func (f *Feed) clock(dt float64) {
	if f.offset != 0 {
		if f.correct -= dt; f.correct <= 0 {
			f.offset = 0
		}
		return
	}
	switch {
	case f.random.chance(perMonth * dt):
		f.offset = 30
		if f.random.chance(0.5) {
			f.offset = -30
		}
	case f.random.chance(perMonth / 6 * dt):
		f.offset = -3600
	default:
		return
	}
	f.correct = f.random.between(3600, 3*secondsPerDay)
}

// Now is the true time of the newest scan.
func (f *Feed) Now() time.Time { return f.unit.Now() }
