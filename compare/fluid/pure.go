package fluid

import (
	"errors"
	"fmt"
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fluid/costald"
	"bridlewatch/compare/quantity"
)

// pure is a liquid of one or more known substances.
type pure struct {
	model
	liquid costald.Liquid
}

func newPure(f datasheet.Fluid) (Liquid, error) {
	if len(f.Components) == 0 {
		return nil, errors.New("the pure model needs the name of the substance, or those of a mixture with mole fractions")
	}
	var parts []costald.Substance
	var fractions []float64
	for _, c := range f.Components {
		s, err := costald.Lookup(c.Name)
		if err != nil {
			return nil, err
		}
		parts, fractions = append(parts, s), append(fractions, c.Fraction)
	}
	if len(parts) == 1 && fractions[0] == 0 {
		fractions[0] = 1
	}
	l, err := costald.Mixture(parts, fractions)
	if err != nil {
		return nil, err
	}
	return pure{known(f, uPure, "COSTALD (AIChE J. 25 (1979) 653, 28 (1982) 671)"), l}, nil
}

func (l pure) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	return l.liquid.Density(t, p)
}

// blend is an ideal mixture: 1/ρ = Σ w/ρ.
type blend struct {
	model
	parts  []Liquid
	shares []float64 // by mass
}

// Blend returns the ideal mixture of liquids by mass fraction, in which
// volumes add up. Real mixtures deviate (alcohol and water by 3 %): relativeU
// says by how much, and is added to the uncertainties of the parts; 0 stands
// for 1 %.
func Blend(parts []Liquid, massFractions []float64, relativeU float64) (Liquid, error) {
	if len(parts) == 0 || len(parts) != len(massFractions) {
		return nil, errors.New("a blend needs liquids, each with a mass fraction")
	}
	total, variance := 0.0, relativeU*relativeU
	if relativeU == 0 {
		variance = uCoefficient * uCoefficient
	}
	for i, w := range massFractions {
		if !(w >= 0) {
			return nil, fmt.Errorf("mass fraction %g is negative", w)
		}
		total += w
		variance += w * w * parts[i].RelativeU() * parts[i].RelativeU()
	}
	if !(math.Abs(total-1) <= 1e-3) {
		return nil, fmt.Errorf("mass fractions add up to %.4f, not to 1", total)
	}
	shares := make([]float64, len(massFractions))
	for i, w := range massFractions {
		shares[i] = w / total
	}
	return blend{model{math.Sqrt(variance), "ideal mixture by mass fraction"}, parts, shares}, nil
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
