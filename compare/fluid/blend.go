package fluid

import (
	"errors"
	"fmt"
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// blend is an ideal mixture, in which volumes add up: 1/ρ = Σ w/ρ. Real
// mixtures deviate (alcohol and water by 3 %), which is the share of the
// uncertainty that does not come from the parts.
type blend struct {
	model
	parts  []Liquid
	shares []float64 // by mass
}

func newBlend(f datasheet.Fluid) (Liquid, error) {
	if len(f.Parts) < 2 {
		return nil, errors.New("a blend needs two fluids or more, each with its mass fraction")
	}
	total := 0.0
	for _, p := range f.Parts {
		if !(p.MassFraction >= 0) {
			return nil, fmt.Errorf("mass fraction %g of %q is negative", p.MassFraction, p.Fluid.Name)
		}
		total += p.MassFraction
	}
	if !(math.Abs(total-1) <= 1e-3) {
		return nil, fmt.Errorf("mass fractions add up to %.4f, not to 1", total)
	}
	b := blend{}
	variance := uMixing * uMixing
	for _, p := range f.Parts {
		l, err := New(p.Fluid)
		if err != nil {
			return nil, err
		}
		share := p.MassFraction / total
		b.parts, b.shares = append(b.parts, l), append(b.shares, share)
		variance += share * share * l.RelativeU() * l.RelativeU()
	}
	b.model = known(f, math.Sqrt(variance), "ideal mixture by mass fraction")
	return b, nil
}

func (b blend) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	volume := 0.0 // of one kilogram
	for i, part := range b.parts {
		rho, err := part.Density(t, p)
		if err != nil {
			return 0, err
		}
		volume += b.shares[i] / float64(rho)
	}
	return quantity.Density(1 / volume), nil
}

func (b blend) explain(t quantity.Temperature, p quantity.Pressure) ([]quantity.Step, error) {
	rho, err := b.Density(t, p)
	if err != nil {
		return nil, err
	}
	steps := state(t, p)
	for i, part := range b.parts {
		own, err := part.Density(t, p)
		if err != nil {
			return nil, err
		}
		number := fmt.Sprint(i + 1)
		steps = append(steps,
			quantity.Step{Symbol: "w" + number, Meaning: "mass fraction of part " + number, Value: b.shares[i], Source: quantity.Given},
			quantity.Step{Symbol: "ρ" + number, Meaning: "density of part " + number, Value: float64(own), Unit: "kg/m3", Source: part.Basis()})
	}
	return append(steps, last(rho, b.basis, "1 / Σ (w/ρ)")), nil
}
