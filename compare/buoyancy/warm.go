package buoyancy

import "bridlewatch/compare/quantity"

// Warm is a float grown by heat: every length by the same factor, the mass as
// it was. A float k times as large swims in a liquid like the cold one in a
// liquid k³ times as dense, k times as deep.
type Warm struct {
	cold   *Float
	factor float64
}

// Grown returns the float with every length multiplied by the factor, 1 + α ΔT
// for a material that expands by α per kelvin. It does not allocate.
func (f *Float) Grown(factor float64) Warm { return Warm{f, factor} }

// denser is what a density is to the cold float.
func (w Warm) denser(rho quantity.Density) quantity.Density {
	return rho * quantity.Density(w.factor*w.factor*w.factor)
}

// SinkingDensity is that of Float: lower, because the float is larger.
func (w Warm) SinkingDensity() quantity.Density {
	return w.cold.SinkingDensity() / quantity.Density(w.factor*w.factor*w.factor)
}

// Height returns the whole length.
func (w Warm) Height() quantity.Length { return w.cold.Height() * quantity.Length(w.factor) }

// Swims is that of Float.
func (w Warm) Swims(lower, upper quantity.Density) (quantity.Length, bool) {
	z, ok := w.cold.Swims(w.denser(lower), w.denser(upper))
	return z * quantity.Length(w.factor), ok
}

// Immersion is that of Float.
func (w Warm) Immersion(lower, upper quantity.Density) (quantity.Length, error) {
	if z, ok := w.Swims(lower, upper); ok {
		return z, nil
	}
	return 0, refusal(lower, upper, w.SinkingDensity())
}

// Sensitivity is that of Float.
func (w Warm) Sensitivity(z quantity.Length, lower, upper quantity.Density) Sensitivity {
	s := w.cold.Sensitivity(z/quantity.Length(w.factor), w.denser(lower), w.denser(upper))
	s.PerMass *= w.factor
	s.PerLower *= w.factor * float64(w.denser(1))
	s.PerUpper *= w.factor * float64(w.denser(1))
	return s
}

// VolumeBelow is that of Float.
func (w Warm) VolumeBelow(z quantity.Length) float64 {
	return w.cold.VolumeBelow(z/quantity.Length(w.factor)) * float64(w.denser(1))
}

// Volume is that of Float.
func (w Warm) Volume() float64 { return w.cold.Volume() * float64(w.denser(1)) }

// Share is that of Float.
func (w Warm) Share(lower, upper quantity.Density) float64 {
	return w.cold.Share(w.denser(lower), w.denser(upper))
}

// Reserve is that of Float.
func (w Warm) Reserve(liquid quantity.Density) Reserve {
	r := w.cold.Reserve(w.denser(liquid))
	r.Sinking = w.SinkingDensity()
	return r
}

// Friction is that of Float.
func (w Warm) Friction(force float64, liquid, gas quantity.Density) quantity.Length {
	return w.cold.Friction(force, liquid, gas) / quantity.Length(w.factor*w.factor)
}
