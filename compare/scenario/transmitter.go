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
		level += f.levelError(surface, &u.faultRand) + f.scatter(TransmitterNoisy, &u.faultRand)
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
			lift += f.foam(&u.faultRand)
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

func (u *Unit) probe(kind partKind) *probe {
	if kind == partSecond {
		return &u.second
	}
	return &u.main
}
