package uncertainty_test

import (
	"fmt"

	"bridlewatch/compare/uncertainty"
)

// JCGM 100:2008, H.1: the difference of two end gauges.
func ExampleBudget_CombineFor() {
	d := uncertainty.Budget{Quantity: "difference of the gauges", Value: 215, Unit: "nm", Terms: []uncertainty.Term{
		{Name: "repeated observations", U: 5.8, DoF: 24, Sensitivity: 1},
		{Name: "random effects of comparator", U: 3.9, DoF: 5, Sensitivity: 1},
		{Name: "systematic effects of comparator", U: 6.7, DoF: 8, Sensitivity: 1},
	}}
	if err := d.CombineFor(0.95); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("u = %.1f nm with %.1f degrees of freedom, U = %.0f nm (k = %.2f)\n", d.U, d.DoF, d.Expanded, d.Coverage)
	fmt.Println(d.Ranked()[0].Name)
	// Output:
	// u = 9.7 nm with 25.4 degrees of freedom, U = 20 nm (k = 2.06)
	// systematic effects of comparator
}
