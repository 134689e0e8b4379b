package buoyancy_test

import (
	"fmt"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/quantity"
)

// A float of 50 mm by 250 mm with hemispherical ends and half the density of
// water swims in water at half its height, and deeper in a lighter liquid.
func ExampleFloat_Immersion() {
	f, err := buoyancy.New(0.229074464324, 0.050, 0.250, buoyancy.Hemisphere)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, rho := range []float64{1000, 800, 480} {
		z, err := f.Immersion(quantity.Density(rho), 0)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Printf("%.0f kg/m3: %.3f mm\n", rho, z.Millimetres())
	}
	// Output:
	// 1000 kg/m3: 125.000 mm
	// 800 kg/m3: 154.167 mm
	// buoyancy: float sinks: liquid 480 kg/m3 is not heavier than the float's mean density 500 kg/m3; it needs a lighter or larger float
}
