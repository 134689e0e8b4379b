package water

import (
	"math"

	"bridlewatch/compare/quantity"
)

// Constants of R8-97, Table 1, as published there (CODATA of 1986). Newer
// values would move the result away from the release.
const (
	boltzmann           = 1.380658e-23    // J/K
	avogadro            = 6.0221367e23    // 1/mol
	polarizability      = 1.636e-40       // C2 m2/J
	dipoleMoment        = 6.138e-30       // C m
	vacuumPermittivity  = 8.854187817e-12 // C2/(J m)
	molarMass           = 0.018015268     // kg/mol
	lowestDielectric    = 238.0           // K
	highestDielectric   = 873.15          // K
	highestDielectricRo = 1300.0          // kg/m3, about the density at 1000 MPa
	dielectricModel     = "IAPWS R8-97"
	dipoleFactor        = avogadro * dipoleMoment * dipoleMoment / (molarMass * vacuumPermittivity * boltzmann)
	polarizationFactor  = avogadro * polarizability / (3 * molarMass * vacuumPermittivity)
)

// Permittivity returns the static relative permittivity of water or steam of
// a density at a temperature, 238 K to 873.15 K. The release gives it for
// densities reached up to 1000 MPa. At the frequencies of level radar liquid
// water disperses; steam does not (from memory).
func Permittivity(rho quantity.Density, t quantity.Temperature) (float64, error) {
	T, R := float64(t), float64(rho)
	if !(T >= lowestDielectric && T <= highestDielectric) {
		return 0, &quantity.RangeError{Model: dielectricModel, Quantity: "temperature", Value: T,
			Low: lowestDielectric, High: highestDielectric, Unit: "K", Remedy: checkInstruments}
	}
	if !(R >= 0 && R <= highestDielectricRo) {
		return 0, &quantity.RangeError{Model: dielectricModel, Quantity: "density", Value: R,
			Low: 0, High: highestDielectricRo, Unit: "kg/m3", Remedy: checkInstruments}
	}
	a := dipoleFactor * R * harrisAlder(R/criticalDensity, criticalTemperature/T, T) / T // eq. (2)
	b := polarizationFactor * R                                                          // eq. (3)
	return (1 + a + 5*b + math.Sqrt(9+2*a+18*b+a*a+10*a*b+9*b*b)) / (4 - 4*b), nil       // eq. (1)
}

// harrisAlder is the g factor, eq. (4) with Table 2; delta = ρ/322,
// tau = 647.096 K/T.
func harrisAlder(delta, tau, T float64) float64 {
	n := &dielectric
	root := math.Sqrt(tau)
	tau2 := tau * tau
	tau5 := tau2 * tau2 * tau
	return 1 + delta*(n[0]*math.Sqrt(root)+n[1]*tau+n[2]*tau2*root+n[11]*math.Exp(-1.2*math.Log(T/228-1))+
		delta*(n[3]*tau*root+
			delta*(n[4]*tau*root+n[5]*tau2*root+
				delta*(n[6]*tau2+
					delta*(n[7]*tau2+
						delta*(n[8]*tau5+
							delta*(n[9]*root+
								delta*delta*delta*n[10]*tau5*tau5)))))))
}
