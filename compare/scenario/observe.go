package scenario

import (
	"fmt"
	"math"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// observe lets every instrument look at the world and keeps what they say.
func (u *Unit) observe(dt float64) error {
	truth := u.world.truth
	truth.Time = u.Now()
	var s gauge.Snapshot
	if err := u.world.model.Indicate(&truth, &s); err != nil {
		return fmt.Errorf("simulate gauge %s: %w", u.sheet.Tag, err)
	}
	wave := u.wave.step(&u.noise, dt, 25) * (0.8e-3 * u.world.mover.boil)
	wave += u.noise.normal() * u.world.weather.service.Vibration

	u.readFloat(&s, wave, dt)
	u.readPoints(&s, float64(truth.ChamberLevel)+wave)
	s.Transmitter = u.readTransmitter(&u.main, s.Transmitter, truth, wave, dt)
	s.Second = u.readTransmitter(&u.second, s.Second, truth, wave, dt)
	u.readSurroundings(&s, dt)
	u.transmission(&s, dt)
	s.Isolated = u.world.events.isolated()
	if u.world.events.events.Restarts > 0 {
		u.world.events.cache(&s)
	}
	u.last = s
	return nil
}

// readFloat moves the float to where the liquid wants it, if it can, and
// reads its follower. Until readPoints the points of s are those of a sound
// float.
func (u *Unit) readFloat(s *gauge.Snapshot, wave, dt float64) {
	if s.Float.Quality == quantity.Absent {
		return
	}
	wants := s.Float.Value + wave*u.character.float.wave
	if !u.placed {
		u.float, u.backlash, u.placed = wants, wants, true
	}
	goes, bottom := wants, u.bottom()
	for i := range u.faults {
		if f := &u.faults[i]; f.on {
			goes = f.float(u.float, goes, dt, bottom)
		}
	}
	u.float = goes
	// The coupling of magnet and follower has a little play.
	u.backlash = math.Min(math.Max(u.backlash, u.float-u.character.backlash), u.float+u.character.backlash)
	reads := u.backlash + u.character.float.zero
	for i := range u.faults {
		if f := &u.faults[i]; f.on {
			reads = f.follower(reads)
		}
	}
	s.Float.Value = quantise(&u.sheet.Float, reads) + u.character.float.noise*u.noise.normal() + u.scatter(FollowerNoisy)
}

// scatter is what the faults of a kind that are on add to one reading, metres.
func (u *Unit) scatter(kind Kind) (metres float64) {
	for i := range u.faults {
		if f := &u.faults[i]; f.on {
			metres += f.scatter(kind, &u.faultRand)
		}
	}
	return metres
}

// bottom is the lowest the float goes.
func (u *Unit) bottom() float64 {
	return -math.Min(0.05, math.Max(0.01, float64(u.sheet.Chamber.BelowLowerTap)))
}

// readPoints works every point by the magnet or by the liquid.
func (u *Unit) readPoints(s *gauge.Snapshot, surface float64) {
	for i := range u.sheet.Points {
		p := &u.sheet.Points[i]
		position, elevation := surface, float64(p.Elevation)+u.character.point[i]
		if p.ByFloat() && u.placed {
			position = u.float - float64(u.sheet.Float.Offset)
		}
		dead, differential := false, float64(p.Differential)
		for k := range u.faults {
			if f := &u.faults[k]; f.on && f.part == (part{partPoint, i}) {
				dead = dead || f.fault.Kind == PointFailed
				switch f.fault.Kind {
				case PointShifted:
					elevation += f.size
				case PointWidened:
					differential += f.size
				}
			}
		}
		c := &u.contacts[i]
		if !dead {
			c.pass(position, elevation, differential)
		}
		s.Points[i].Value = 0
		if c.wet {
			s.Points[i].Value = 1
		}
	}
}

// readSurroundings gives the other instruments their noise and their lag.
func (u *Unit) readSurroundings(s *gauge.Snapshot, dt float64) {
	jitter := func(r *quantity.Reading, sd float64) {
		if r.Quality != quantity.Absent {
			r.Value += sd * u.noise.normal()
		}
	}
	jitter(&s.Pressure, 0.0003*s.Pressure.Value)
	jitter(&s.Temperature, 0.05)
	jitter(&s.Density, 0.0002*s.Density.Value)
	if s.ChamberTemperature.Quality != quantity.Absent {
		// A surface sensor follows the liquid with twenty minutes of lag.
		if u.cold == 0 {
			u.cold = s.ChamberTemperature.Value
		}
		u.cold += (s.ChamberTemperature.Value - u.cold) * -math.Expm1(-dt/1200)
		s.ChamberTemperature.Value = u.cold
		jitter(&s.ChamberTemperature, 0.1)
	}
	if s.Vessel.Quality != quantity.Absent {
		e := u.character.vessel
		s.Vessel.Value += e.zero + e.noise*u.noise.normal() + e.wave*0.6e-3*u.world.mover.boil*u.noise.normal() + u.scatter(VesselNoisy)
	}
}

// transmission is the way from the instruments to the reader: report by
// exception, drop-outs, single losses, signals cut by a fault.
func (u *Unit) transmission(s *gauge.Snapshot, dt float64) {
	v := &u.world.weather.service
	for kind := partFloat; kind <= partVessel; kind++ {
		if kind == partPoint {
			continue
		}
		r := readingOf(s, part{kind, -1})
		if r.Quality == quantity.Absent {
			continue
		}
		l := &u.links[kind]
		if v.ReportBeyond > 0 && (kind == partFloat || kind == partTransmitter || kind == partSecond) {
			beyond := v.ReportBeyond
			if kind != partFloat {
				beyond *= math.Abs(u.probe(kind).lever.slope)
			}
			r.Value = l.report(r.Value, beyond)
		}
		if l.cut -= dt; l.cut <= 0 && u.arrival.chance(v.Dropouts*perMonth*dt) {
			l.cut = u.arrival.between(3600, 6*3600)
		}
		if l.cut > 0 {
			r.Quality, r.Reason = quantity.Bad, quantity.NoAnswer
		} else if u.arrival.chance(v.Missing) {
			r.Quality, r.Reason = quantity.Stale, quantity.TooOld
		}
	}
	for i := range u.faults {
		if f := &u.faults[i]; f.on && f.fault.Kind == SignalLost {
			r := readingOf(s, f.part)
			r.Quality, r.Reason = quantity.Bad, quantity.NoAnswer
		}
	}
}

// readingOf returns the reading of a part.
func readingOf(s *gauge.Snapshot, p part) *quantity.Reading {
	switch p.kind {
	case partTransmitter:
		return &s.Transmitter
	case partSecond:
		return &s.Second
	case partPoint:
		return &s.Points[p.point]
	case partPressure:
		return &s.Pressure
	case partTemperature:
		return &s.Temperature
	case partChamberTemperature:
		return &s.ChamberTemperature
	case partDensity:
		return &s.Density
	case partVessel:
		return &s.Vessel
	}
	return &s.Float
}
