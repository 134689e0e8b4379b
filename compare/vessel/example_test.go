package vessel_test

import (
	"fmt"

	"bridlewatch/compare/vessel"
)

// A drum at 100 bar, its chamber at 211 °C: what the glass shows and what
// stands in the drum.
func ExampleBalance_InVessel() {
	b := vessel.Balance{Span: 1, Vessel: 688.4113, VesselGas: 55.4521, Chamber: 857.9820, ChamberGas: 55.4521}
	drum, at := b.InVessel(0.394347)
	fmt.Printf("%.1f mm, %v\n", drum.Millimetres(), at)
	drum, at = b.InVessel(0.9)
	fmt.Printf("%.1f mm, %v\n", drum.Millimetres(), at)
	// Output:
	// 500.0 mm, within
	// 0.0 mm, at or above upper tap
}
