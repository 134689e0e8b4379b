package fluid

import (
	"errors"

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
