package costald

import (
	"fmt"
	"strings"
)

// Substance is one row of the table of parameters.
type Substance struct {
	Name         string
	CriticalTemp float64 // K
	CriticalPres float64 // Pa
	MolarMass    float64 // kg/mol
	Omega        float64 // acentric factor, SRK
	Volume       float64 // V*, m3/mol
	Rackett      float64 // Z_RA
}

// substances: ω, V* and Z_RA as published with the method (Hankinson and
// Thomson 1979; R. C. Reid, J. M. Prausnitz, B. E. Poling, The Properties of
// Gases and Liquids, 4th ed., 1987), by way of a public collection. Critical
// temperature, critical pressure and molar mass are from memory, rounded as
// in that handbook.
var substances = [...]Substance{
	{"ethane", 305.32, 4.872e6, 0.030070, 0.0983, 1.458e-4, 0.2808},
	{"propane", 369.83, 4.248e6, 0.044097, 0.1532, 2.001e-4, 0.2766},
	{"i-butane", 407.8, 3.640e6, 0.058123, 0.1825, 2.568e-4, 0.2754},
	{"n-butane", 425.12, 3.796e6, 0.058123, 0.2008, 2.544e-4, 0.2730},
	{"i-pentane", 460.4, 3.380e6, 0.072150, 0.2400, 3.096e-4, 0.2717},
	{"n-pentane", 469.7, 3.370e6, 0.072150, 0.2522, 3.113e-4, 0.2684},
	{"n-hexane", 507.6, 3.025e6, 0.086177, 0.3007, 3.682e-4, 0.2635},
	{"propylene", 364.9, 4.600e6, 0.042081, 0.1455, 1.829e-4, 0.2779},
	{"ammonia", 405.4, 11.333e6, 0.017031, 0.2620, 7.013e-5, 0.2465},

	// All of these from memory; the test compares each with handbook densities.
	// Methanol and ethanol are left out: the method misses them by 2 to 3 %.
	{"ethylene", 282.4, 5.040e6, 0.028054, 0.0882, 1.310e-4, 0.2815},
	{"1-butene", 419.6, 4.020e6, 0.056108, 0.1921, 2.377e-4, 0.2735},
	{"n-heptane", 540.3, 2.740e6, 0.100204, 0.3507, 4.304e-4, 0.2604},
	{"n-octane", 568.8, 2.490e6, 0.114231, 0.3998, 4.904e-4, 0.2571},
	{"n-nonane", 594.6, 2.290e6, 0.128258, 0.4478, 5.529e-4, 0.2543},
	{"n-decane", 617.7, 2.110e6, 0.142285, 0.4916, 6.192e-4, 0.2507},
	{"cyclohexane", 553.5, 4.070e6, 0.084161, 0.2128, 3.090e-4, 0.2729},
	{"benzene", 562.2, 4.890e6, 0.078114, 0.2137, 2.564e-4, 0.2696},
	{"toluene", 591.8, 4.110e6, 0.092141, 0.2651, 3.137e-4, 0.2646},
	{"carbon dioxide", 304.1, 7.380e6, 0.044010, 0.2373, 9.380e-5, 0.2722},
}

// Names lists the substances.
func Names() []string {
	names := make([]string, len(substances))
	for i := range substances {
		names[i] = substances[i].Name
	}
	return names
}

// Lookup finds a substance by name.
func Lookup(name string) (Substance, error) {
	for i := range substances {
		if strings.EqualFold(substances[i].Name, strings.TrimSpace(name)) {
			return substances[i], nil
		}
	}
	return Substance{}, fmt.Errorf("no parameters for %q: known are %s; give the density by a table", name, strings.Join(Names(), ", "))
}
