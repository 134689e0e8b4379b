package gauge

import (
	"fmt"

	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/uncertainty"
)

// CheckBudget propagates the inputs of a gap by Monte Carlo through the whole
// physics (JCGM 101:2008) and says whether the linear budget of the pair can be
// trusted at this state. It takes some microseconds per trial; 10^5 are plenty
// for one significant digit. The caller makes the random numbers, with a seed.
func (m *Model) CheckBudget(in *Snapshot, p Pair, trials int, random uncertainty.Random) (uncertainty.Check, error) {
	var c conditions
	m.observe(in, &c.state)
	if err := m.fill(&c); err != nil {
		return uncertainty.Check{}, fmt.Errorf("gauge %q: no budget to check: %w", m.sheet.Tag, err)
	}
	var out Measurement
	m.levels(in, &c, true, &out)
	if !out.Gaps[p].OK {
		return uncertainty.Check{}, fmt.Errorf("gauge %q: no gap %v to check: %v", m.sheet.Tag, p, out.Gaps[p].Reason)
	}
	table, err := m.gapBudget(p, &out, &c)
	if err != nil {
		return uncertainty.Check{}, err
	}
	const probability = 0.9545 // of k = 2 and a normal distribution
	if err := table.CombineFor(probability); err != nil {
		return uncertainty.Check{}, err
	}
	a, b := out.pair(p)
	e := experiment{m: m, in: in, at: c, pair: p, own: ownParts(a, b)}
	result, err := uncertainty.MonteCarlo(e.gap, e.variables(), trials, random, probability)
	if err != nil {
		return uncertainty.Check{}, err
	}
	return uncertainty.Validate(table.Budget, result, 1), nil
}

// experiment is the gap as a function of what may be wrong.
type experiment struct {
	m    *Model
	in   *Snapshot
	at   conditions
	pair Pair
	own  float64 // mm, everything that only adds to a level
}

// The variables of an experiment, each a deviation in standard deviations.
const (
	byModel = iota
	byVesselTemp
	byChamberTemp
	byGas
	byFloatMass
	byLeg
	byOwn
	deviations
)

func (e *experiment) variables() []uncertainty.Variable {
	v := make([]uncertainty.Variable, deviations)
	for i := range v {
		v[i].U = 1
	}
	v[byChamberTemp].Distribution = e.at.chamberShape()
	return v
}

// ownParts combines the parts that are simple additions, of which no physics
// can make anything but what they are.
func ownParts(a, b *level.Level) float64 {
	var parts level.Contributions
	for _, i := range []level.Input{level.TapElevation, level.Follower, level.TransmitterDevice, level.DisplacerDevice,
		level.SecondDevice, level.VesselDevice, level.InputElectronics, level.TransmitterInput, level.Skew} {
		parts[i] = a.Parts[i] - b.Parts[i]
	}
	return parts.U().Millimetres()
}

// gap is one trial, in millimetres.
func (e *experiment) gap(x []float64) (float64, bool) {
	c := conditions{state: e.at.state}
	relative := e.at.inChamber.byModel / e.at.inChamber.liquid
	c.composition *= 1 + x[byModel]*relative
	c.vessel += x[byVesselTemp] * c.uVessel
	c.chamber += x[byChamberTemp] * c.uChamber
	if c.derived {
		c.chamber += x[byVesselTemp] * c.uVessel
	}
	if c.boiling > 0 {
		c.chamber = min(c.chamber, c.boiling)
	}
	m, ok := e.perturbed(x)
	if !ok || m.fill(&c) != nil {
		return 0, false
	}
	gasFactor := 1.0
	if e.at.inChamber.gas > 0 {
		gasFactor += x[byGas] * e.at.inChamber.byGas / e.at.inChamber.gas
	}
	c.inChamber.gas *= gasFactor
	c.inVessel.gas *= gasFactor
	c.permittivity = 1 + (c.permittivity-1)*gasFactor
	if m.derive(&c) != nil {
		return 0, false
	}
	var out Measurement
	m.levels(e.in, &c, true, &out)
	a, b := out.pair(e.pair)
	if !a.OK() || !b.OK() {
		return 0, false
	}
	return (a.Value - b.Value).Millimetres() + x[byOwn]*e.own, true
}

// perturbed is the model with another float mass and another leg.
func (e *experiment) perturbed(x []float64) (*Model, bool) {
	m := *e.m
	if m.float != nil {
		f, err := m.float.Heavier(quantity.Mass(x[byFloatMass] * m.u.floatMass))
		if err != nil {
			return nil, false
		}
		m.float = f
	}
	m.first, m.second = otherLeg(m.first, x[byLeg]), otherLeg(m.second, x[byLeg])
	return &m, true
}

func otherLeg(t *transmitter, x float64) *transmitter {
	if t == nil || t.uLeg == 0 {
		return t
	}
	o := *t
	o.spec.LegDensity += quantity.Density(x * t.uLeg)
	return &o
}
