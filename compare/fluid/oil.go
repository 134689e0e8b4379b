package fluid

import (
	"errors"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fluid/petroleum"
	"bridlewatch/compare/quantity"
)

// oil is a petroleum liquid. The standard counts pressure from atmospheric;
// the standard atmosphere is taken, since the few kilopascals to that of the
// site change the density by 3e-5 at most.
type oil struct {
	model
	oil petroleum.Oil
}

func newPetroleum(f datasheet.Fluid) (Liquid, error) {
	group, err := petroleum.ParseGroup(f.Group)
	if err != nil {
		return nil, err
	}
	if !positive(float64(f.BaseTemperature)) {
		return nil, errors.New("the petroleum model needs the temperature of the base density: 60 degF, 15 degC or 20 degC")
	}
	o, err := petroleum.New(group, f.BaseDensity, f.BaseTemperature, f.Expansion)
	if err != nil {
		return nil, err
	}
	return oil{known(f, uPetroleum, "API MPMS 11.1-2004, "+group.String()), o}, nil
}

func (o oil) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	return o.oil.Density(t, gaugePressure(p))
}

func gaugePressure(p quantity.Pressure) quantity.PressureDifference {
	return quantity.PressureDifference(p - quantity.StandardAtmosphere)
}

// lpg is a liquefied gas at saturation; pressure does not act on it.
type lpg struct {
	model
	lpg petroleum.LPG
}

func newLPG(f datasheet.Fluid) (Liquid, error) {
	l, err := petroleum.NewLPG(f.RelativeDensity)
	if err != nil {
		return nil, err
	}
	return lpg{known(f, uLPG, "API MPMS 11.2.4 at saturation"), l}, nil
}

func (l lpg) Density(t quantity.Temperature, _ quantity.Pressure) (quantity.Density, error) {
	return l.lpg.Density(t)
}
