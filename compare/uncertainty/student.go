package uncertainty

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// CoverageFactor returns the k for which y ± k u holds a probability, by
// Student's t of the degrees of freedom (0: infinite), JCGM 100:2008, G.3.
// Degrees of freedom that are no whole number are rounded down (G.4.1). The
// probability must lie between 0 and 1, the degrees of freedom be at least 1.
func CoverageFactor(probability, dof float64) (float64, error) {
	if !(probability > 0 && probability < 1) {
		return 0, fmt.Errorf("uncertainty: coverage probability %g must lie between 0 and 1", probability)
	}
	if dof == 0 || math.IsInf(dof, 1) {
		return math.Sqrt2 * math.Erfinv(probability), nil
	}
	dof = math.Floor(dof)
	if !(dof >= 1) {
		return 0, fmt.Errorf("uncertainty: %g degrees of freedom: there must be at least one", dof)
	}
	x := mathext.InvRegIncBeta(dof/2, 0.5, 1-probability)
	return math.Sqrt(dof * (1 - x) / x), nil
}

// chiSquareLimit returns the value the chi-square of ν degrees of freedom
// exceeds with probability 1 − p.
func chiSquareLimit(p float64, dof int) float64 {
	return 2 * mathext.GammaIncRegInv(float64(dof)/2, p)
}
