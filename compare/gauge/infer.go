package gauge

import (
	"fmt"
	"math"

	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// Inference is the density at which two instruments of different dependence on
// it would agree.
type Inference struct {
	Pair         Pair             `json:"-"`
	Between      string           `json:"pair"`
	Density      quantity.Density `json:"density_kg_m3"` // of the chamber's liquid
	U            quantity.Density `json:"u_kg_m3"`       // standard uncertainty
	Prior        quantity.Density `json:"prior_u_kg_m3"` // what is known without the gap
	PerDensity   float64          `json:"gap_m_per_kg_m3"`
	Identifiable bool             `json:"identifiable"` // U is smaller than Prior
	Sentence     string           `json:"sentence"`
}

// InferDensity finds the density of the chamber's liquid that closes the gap of
// a pair. It is the right density only if both instruments are sound: a gap
// has many causes. It fails when either level is missing and when the two
// depend on density alike.
func (m *Model) InferDensity(in *Snapshot, p Pair) (Inference, error) {
	var base conditions
	m.observe(in, &base.state)
	g, u, rho, ok := m.gapAt(in, &base, p, 1)
	if !ok {
		return Inference{}, fmt.Errorf("gauge %q: no gap of %v to infer a density from", m.sheet.Tag, p)
	}
	inf := Inference{Pair: p, Between: p.String(), Prior: m.priorDensity(rho)}
	ratio, slope, err := m.closeGap(in, &base, p, g)
	if err != nil {
		return Inference{}, err
	}
	inf.Density = rho * quantity.Density(ratio)
	inf.PerDensity = slope / float64(rho)
	inf.U = quantity.Density(u / math.Abs(inf.PerDensity))
	inf.Identifiable = inf.U < inf.Prior
	inf.Sentence = inf.sentence()
	return inf, nil
}

// inferences are the densities that would close the gaps between an instrument
// and the others of the chamber, where a gap says anything about it.
func (m *Model) inferences(in *Snapshot, of Instrument) []Inference {
	var all []Inference
	for _, p := range map[Instrument][]Pair{
		TheFloat:       {FloatTransmitter, FloatSecond},
		TheTransmitter: {FloatTransmitter, TransmitterSecond},
		TheSecond:      {FloatSecond, TransmitterSecond},
	}[of] {
		if inf, err := m.InferDensity(in, p); err == nil {
			all = append(all, inf)
		}
	}
	return all
}

func (i *Inference) sentence() string {
	if !i.Identifiable {
		return fmt.Sprintf("The gap says nothing about the density here: it would give %.0f ± %.0f kg/m³ (k = 1), and ± %.0f is known without it.", float64(i.Density), float64(i.U), float64(i.Prior))
	}
	return fmt.Sprintf("If both instruments are sound, the liquid in the chamber has %.1f ± %.1f kg/m³ (k = 1).", float64(i.Density), float64(i.U))
}

// priorDensity is what is known of the density without comparing anything: the
// range in service as a rectangle, at least one percent.
func (m *Model) priorDensity(rho quantity.Density) quantity.Density {
	low, high := m.sheet.ServiceRange()
	return max((high-low)/2*quantity.Density(rectangular), 0.01*rho)
}

// closeGap solves gap(ratio) = 0 by the secant rule from the modelled density.
func (m *Model) closeGap(in *Snapshot, base *conditions, p Pair, g0 float64) (ratio, slope float64, err error) {
	const step = 1e-4
	x0, x1 := 1.0, 1+step
	for range 30 {
		g1, _, _, ok := m.gapAt(in, base, p, x1)
		if !ok || x1 < 0.3 || x1 > 3 {
			return 0, 0, fmt.Errorf("gauge %q: no density closes the gap of %v", m.sheet.Tag, p)
		}
		slope = (g1 - g0) / (x1 - x0)
		if math.Abs(slope) < 1e-9 {
			return 0, 0, fmt.Errorf("gauge %q: both levels of %v depend on density alike; their gap says nothing about it", m.sheet.Tag, p)
		}
		next := x1 - g1/slope
		if math.Abs(next-x1) < 1e-12 {
			return next, slope, nil
		}
		x0, g0, x1 = x1, g1, next
	}
	return 0, 0, fmt.Errorf("gauge %q: the density that closes the gap of %v was not found in 30 steps", m.sheet.Tag, p)
}

// gapAt is the gap of a pair with a liquid of another density than modelled,
// and its standard uncertainty without the part of the density itself.
func (m *Model) gapAt(in *Snapshot, base *conditions, p Pair, ratio float64) (gap, u float64, rho quantity.Density, ok bool) {
	c := conditions{state: base.state}
	c.composition = ratio
	if m.fill(&c) != nil {
		return 0, 0, 0, false
	}
	var out Measurement
	m.levels(in, &c, true, &out)
	a, b := out.pair(p)
	if !a.OK() || !b.OK() {
		return 0, 0, 0, false
	}
	a.Parts[level.LiquidDensity], b.Parts[level.LiquidDensity] = 0, 0
	g, ug, ok := level.Difference(a, b)
	return float64(g), float64(ug), out.Liquid, ok
}
