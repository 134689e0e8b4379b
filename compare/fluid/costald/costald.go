package costald

import (
	"errors"
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// Liquid is a pure liquid or a mixture of constant composition, reduced to
// the parameters of one pseudo-substance.
type Liquid struct {
	tc, pc, omega, volume float64
	molarMass             float64
	rackett               float64
}

const (
	model   = "COSTALD"
	coldest = 0.25 // of Tr
	hottest = 0.95
	// gasConstant is 8.314462618 J/(mol K), exact since 2019.
	gasConstant = 8.31446261815324
)

// Pure returns the liquid of one substance.
func Pure(s Substance) Liquid {
	return Liquid{s.CriticalTemp, s.CriticalPres, s.Omega, s.Volume, s.MolarMass, s.Rackett}
}

// Mixture returns the liquid of several substances with mole fractions, by
// the mixing rules of Hankinson and Thomson (1979). The fractions must add up
// to one within 0.1 % and are then made to do so exactly.
func Mixture(parts []Substance, moleFractions []float64) (Liquid, error) {
	if len(parts) == 0 || len(parts) != len(moleFractions) {
		return Liquid{}, errors.New("a mixture needs components, each with a mole fraction")
	}
	total := 0.0
	for i, x := range moleFractions {
		if !(x >= 0) {
			return Liquid{}, fmt.Errorf("mole fraction %g of %s is negative", x, parts[i].Name)
		}
		total += x
	}
	if !(math.Abs(total-1) <= 1e-3) {
		return Liquid{}, fmt.Errorf("mole fractions add up to %.4f, not to 1", total)
	}
	return mix(parts, moleFractions, total), nil
}

// mix applies Vm = [Σ xV + 3 (Σ xV^2/3)(Σ xV^1/3)]/4, Tc = (Σ x sqrt(V Tc))²/Vm,
// ω = Σ x ω; the pressure scale follows from Zc = 0.291 - 0.080 ω (Thomson,
// Brobst and Hankinson 1982).
func mix(parts []Substance, x []float64, total float64) Liquid {
	var l Liquid
	v1, v23, v13, root := 0.0, 0.0, 0.0, 0.0
	for i, s := range parts {
		share := x[i] / total
		third := math.Cbrt(s.Volume)
		v1 += share * s.Volume
		v23 += share * third * third
		v13 += share * third
		root += share * math.Sqrt(s.Volume*s.CriticalTemp)
		l.omega += share * s.Omega
		l.molarMass += share * s.MolarMass
		l.rackett += share * s.Rackett
	}
	l.volume = (v1 + 3*v23*v13) / 4
	l.tc = root * root / l.volume
	l.pc = (0.291 - 0.080*l.omega) * gasConstant * l.tc / l.volume
	if len(parts) == 1 {
		l.pc = parts[0].CriticalPres
	}
	return l
}

// Range returns the temperatures the method is valid between.
func (l Liquid) Range() (low, high quantity.Temperature) {
	return quantity.Temperature(coldest * l.tc), quantity.Temperature(hottest * l.tc)
}

// Saturated returns the density at saturation.
func (l Liquid) Saturated(t quantity.Temperature) (quantity.Density, error) {
	tr, err := l.reduced(t)
	if err != nil {
		return 0, err
	}
	return quantity.Density(l.molarMass / l.saturatedVolume(tr)), nil
}

// Density returns the density of the compressed liquid. At or below the
// saturation pressure of its temperature it is that at saturation.
func (l Liquid) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	tr, err := l.reduced(t)
	if err != nil {
		return 0, err
	}
	if P := float64(p); !(P >= 0 && P <= highestPressure) {
		return 0, &quantity.RangeError{Model: model, Quantity: "pressure", Value: P / 1e5, Low: 0, High: highestPressure / 1e5, Unit: "bar(a)",
			Remedy: "check the pressure given for the fluid"}
	}
	volume := l.compress(l.saturatedVolume(tr), tr, float64(p), l.vapourPressure(tr))
	return quantity.Density(l.molarMass / volume), nil
}

const highestPressure = 100e6 // Pa, about the largest of the data of 1982 (from memory)

func (l Liquid) reduced(t quantity.Temperature) (tr float64, err error) {
	tr = float64(t) / l.tc
	if !(tr > coldest && tr < hottest) {
		low, high := l.Range()
		return 0, &quantity.RangeError{Model: model, Quantity: "temperature", Value: t.Celsius(), Low: low.Celsius(), High: high.Celsius(),
			Unit: "°C", Remedy: "give the density by a table"}
	}
	return tr, nil
}

// saturatedVolume is Vs = V* V0 (1 - ω Vd).
func (l Liquid) saturatedVolume(tr float64) float64 {
	third := math.Cbrt(1 - tr)
	v0 := 1 + third*(-1.52816+third*(1.43907+third*(-0.81446+third*0.190454)))
	vd := (-0.296123 + tr*(0.386914+tr*(-0.0427258-tr*0.0480645))) / (tr - 1.00001)
	return l.volume * v0 * (1 - l.omega*vd)
}

// compress is V = Vs {1 - C ln[(B + p)/(B + psat)]}.
func (l Liquid) compress(saturated, tr, P, vapour float64) float64 {
	if P <= vapour {
		return saturated
	}
	t := 1 - tr
	third := math.Cbrt(t)
	e := math.Exp(4.79594 + l.omega*(0.250047+1.14188*l.omega))
	b := l.pc * (-1 + third*(-9.070217+third*(62.45326+third*(-135.1102+third*e))))
	c := 0.0861488 + 0.0344483*l.omega
	return saturated * (1 - c*math.Log((b+P)/(b+vapour)))
}

// vapourPressure is the equation of Lee and Kesler (1975).
func (l Liquid) vapourPressure(tr float64) float64 {
	tr2, ln := tr*tr, math.Log(tr)
	tr6 := tr2 * tr2 * tr2
	f0 := 5.92714 - 6.09648/tr - 1.28862*ln + 0.169347*tr6
	f1 := 15.2518 - 15.6875/tr - 13.4721*ln + 0.43577*tr6
	return l.pc * math.Exp(f0+l.omega*f1)
}

// Rackett returns the density at saturation by the modified Rackett equation
// of Spencer and Danner, V = (R Tc/pc) Z_RA^[1 + (1 - Tr)^(2/7)]: a second
// opinion of another form, usually within 1 %.
func (l Liquid) Rackett(t quantity.Temperature) (quantity.Density, error) {
	tr, err := l.reduced(t)
	if err != nil {
		return 0, err
	}
	return quantity.Density(l.molarMass / l.rackettVolume(tr)), nil
}

func (l Liquid) rackettVolume(tr float64) float64 {
	return gasConstant * l.tc / l.pc * math.Pow(l.rackett, 1+math.Pow(1-tr, 2.0/7))
}
