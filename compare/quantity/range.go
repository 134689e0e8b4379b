package quantity

import "fmt"

// RangeError says that a value lies outside what a physical model is valid
// for. No model of this program clamps or extrapolates silently: it returns
// one of these.
type RangeError struct {
	Model     string // which model refuses, with its source: "IAPWS-IF97"
	Quantity  string // what is outside: "temperature"
	Value     float64
	Low, High float64 // limits, in Unit
	Unit      string
	Remedy    string // what the reader can do
}

func (e *RangeError) Error() string {
	s := fmt.Sprintf("%s: %s %.6g %s is outside %.6g to %.6g %s", e.Model, e.Quantity, e.Value, e.Unit, e.Low, e.High, e.Unit)
	if e.Remedy != "" {
		s += ": " + e.Remedy
	}
	return s
}
