package scenario

import (
	"fmt"
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// probe is a transmitter in the simulation.
type probe struct {
	spec    *datasheet.Transmitter
	part    partKind
	errors  flaws
	lever   lever
	history history
	frozen  float64
	limits  [2]float64 // readings at which the signal saturates
}

// newProbes finds, for each transmitter, how its reading depends on level, by
// asking the physics at two levels.
func (u *Unit) newProbes() error {
	u.main = probe{spec: u.sheet.Transmitter, part: partTransmitter, errors: u.character.main}
	u.second = probe{spec: u.sheet.Second, part: partSecond, errors: u.character.second}
	height := u.sheet.Chamber.CentreToCentre
	at := func(share quantity.Length) (gauge.Snapshot, error) {
		truth := u.world.truth
		truth.Composition, truth.VesselLevel = 1, height*share
		var s gauge.Snapshot
		if err := u.world.model.Settle(&truth); err != nil {
			return s, err
		}
		truth.ChamberLevel = height * share
		err := u.world.model.Indicate(&truth, &s)
		return s, err
	}
	low, err := at(0.3)
	if err != nil {
		return fmt.Errorf("simulate gauge %s: %w", u.sheet.Tag, err)
	}
	high, err := at(0.7)
	if err != nil {
		return fmt.Errorf("simulate gauge %s: %w", u.sheet.Tag, err)
	}
	u.main.learn(low.Transmitter.Value, high.Transmitter.Value, float64(height))
	u.second.learn(low.Second.Value, high.Second.Value, float64(height))
	return nil
}

// learn sets the lever from the readings at 30 and 70 % of the height, and the
// ends of the signal at 3 % beyond both taps.
func (p *probe) learn(low, high, height float64) {
	p.lever.slope = (high - low) / (0.4 * height)
	p.lever.zero = low - 0.3*height*p.lever.slope
	a := p.lever.zero - 0.03125*height*p.lever.slope
	b := p.lever.zero + 1.03125*height*p.lever.slope
	p.limits = [2]float64{math.Min(a, b), math.Max(a, b)}
}

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
	goes, bottom := wants, -math.Min(0.05, math.Max(0.01, float64(u.sheet.Chamber.BelowLowerTap)))
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
	s.Float.Value = quantise(&u.sheet.Float, reads) + u.character.float.noise*u.noise.normal()
}

// readPoints works every point by the magnet or by the liquid.
func (u *Unit) readPoints(s *gauge.Snapshot, surface float64) {
	for i := range u.sheet.Points {
		p := &u.sheet.Points[i]
		position, elevation := surface, float64(p.Elevation)+u.character.point[i]
		if p.ByFloat() && u.placed {
			position = u.float - float64(u.sheet.Float.Offset)
		}
		dead := false
		for k := range u.faults {
			if f := &u.faults[k]; f.on && f.part == (part{partPoint, i}) {
				dead = dead || f.fault.Kind == PointFailed
				if f.fault.Kind == PointShifted {
					elevation += f.size
				}
			}
		}
		c := &u.contacts[i]
		if !dead {
			c.pass(position, elevation, float64(p.Differential))
		}
		s.Points[i].Value = 0
		if c.wet {
			s.Points[i].Value = 1
		}
	}
}

// readTransmitter makes the reading of a transmitter out of that of a perfect
// one.
func (u *Unit) readTransmitter(p *probe, r quantity.Reading, truth gauge.Truth, wave, dt float64) quantity.Reading {
	if r.Quality == quantity.Absent {
		return r
	}
	surface := float64(truth.ChamberLevel)
	if p.spec.Chamber == "vessel" {
		surface = u.world.vessel
	}
	p.history.add(u.now, r.Value)
	late, calm := p.errors.skew, 1.0
	for i := range u.faults {
		if f := &u.faults[i]; f.on && f.part.kind == p.part {
			switch f.fault.Kind {
			case TimeSkew:
				late += f.size
			case TransmitterNoiseLost:
				calm = f.size
			}
		}
	}
	value := p.history.before(u.now, late)
	level := p.errors.zero + p.errors.gain*surface + calm*(wave*p.errors.wave+p.errors.noise*u.noise.normal())
	level += u.echo(p, dt) + u.world.events.calibrated
	frozen, saturated := false, false
	for i := range u.faults {
		f := &u.faults[i]
		if !f.on || f.part.kind != p.part {
			continue
		}
		level += f.levelError(surface, &u.faultRand)
		if f.needs == needLeg {
			value += f.legError(u.legs(p, &truth)) * p.perPascal()
		}
		frozen = frozen || f.fault.Kind == TransmitterFrozen
		saturated = saturated || f.fault.Kind == TransmitterSaturated
	}
	value += level * p.lever.slope
	if saturated {
		value = math.Inf(1)
	}
	if frozen {
		value = p.frozen
	}
	p.frozen = value
	r.Value = value
	return p.saturate(r)
}

// saturate stops a reading at the ends of the signal.
func (p *probe) saturate(r quantity.Reading) quantity.Reading {
	if r.Value >= p.limits[0] && r.Value <= p.limits[1] {
		return r
	}
	r.Value = math.Min(math.Max(r.Value, p.limits[0]), p.limits[1])
	r.Quality, r.Reason = quantity.Uncertain, quantity.Saturated
	return r
}

// echo is what foam and wild echoes add to a radar's level.
func (u *Unit) echo(p *probe, dt float64) float64 {
	if p.spec.Principle != datasheet.Radar {
		return 0
	}
	lift := u.world.weather.lift()
	for i := range u.faults {
		if f := &u.faults[i]; f.on && f.part.kind == p.part && f.fault.Kind == RadarFoam {
			// Foam comes and goes in spells of half an hour.
			phase := math.Sin(f.age / 1800 * math.Pi)
			lift += f.size * math.Max(0, phase) * (0.7 + 0.3*u.faultRand.normal())
		}
	}
	if u.noise.chance(u.world.weather.service.EchoJumps * perDay * dt) {
		lift += math.Copysign(u.noise.between(0.020, 0.080), u.noise.uniform()-0.5)
	}
	return lift
}

// legs describes the reference leg of a dp transmitter now.
func (u *Unit) legs(p *probe, truth *gauge.Truth) legs {
	l := legs{wet: p.spec.Principle != datasheet.DPDry, sign: 1, height: float64(u.sheet.Chamber.CentreToCentre), pressure: float64(truth.Pressure)}
	if p.spec.Swapped {
		l.sign = -1
	}
	if chamber, _, err := u.world.model.Columns(truth); err == nil {
		l.gas, l.liquid = pascalsPerMetre(chamber.Gas), pascalsPerMetre(chamber.Liquid)
	}
	return l
}

// perPascal turns a differential pressure into the unit of the reading.
func (p *probe) perPascal() float64 {
	if p.spec.Compensated && p.spec.CalibratedFor > 0 {
		return 1 / pascalsPerMetre(p.spec.CalibratedFor)
	}
	return 1
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
		s.Vessel.Value += e.zero + e.noise*u.noise.normal() + e.wave*0.6e-3*u.world.mover.boil*u.noise.normal()
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

func (u *Unit) probe(kind partKind) *probe {
	if kind == partSecond {
		return &u.second
	}
	return &u.main
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
