package dpcell_test

import (
	"fmt"

	"bridlewatch/compare/dpcell"
	"bridlewatch/compare/quantity"
)

// Remote seals filled with 960 kg/m3 on a liquid of 850 kg/m3 over 2 m: the
// range does not depend on where the cell stands.
func ExampleCell_Range() {
	for _, below := range []float64{0, 1.5} {
		c := dpcell.Cell{Span: 2, Elevation: quantity.Length(-below), Impulse: 960, Reference: 960}
		lrv, urv := c.Range(0, 2, dpcell.Column{Liquid: 850})
		fmt.Printf("%.3f to %.3f kPa\n", float64(lrv)/1e3, float64(urv)/1e3)
	}
	// Output:
	// -18.829 to -2.157 kPa
	// -18.829 to -2.157 kPa
}
