package pipe

import (
	"fmt"
	"strings"

	"bridlewatch/compare/quantity"
)

// Material is what the elastic stability of a shell depends on. The values are
// for room temperature, from memory of handbooks; modulus to 3 %, yield the
// usual minimum of annealed sheet. All fall with temperature.
type Material struct {
	Name  string
	E     quantity.PressureDifference
	Nu    float64
	Yield quantity.PressureDifference
}

// MaterialOf returns the properties of a float's material by its usual names.
func MaterialOf(name string) (Material, error) {
	const gpa, mpa = 1e9, 1e6
	n := strings.ToUpper(strings.TrimSpace(name))
	switch {
	case strings.HasPrefix(n, "TI"):
		return Material{"titanium grade 2", 105 * gpa, 0.34, 275 * mpa}, nil
	case strings.HasPrefix(n, "316"), strings.HasPrefix(n, "304"), strings.HasPrefix(n, "321"), strings.HasPrefix(n, "STAINLESS"):
		return Material{"austenitic stainless steel", 193 * gpa, 0.3, 205 * mpa}, nil
	case strings.Contains(n, "C276"), strings.Contains(n, "C-276"):
		return Material{"nickel alloy C-276", 205 * gpa, 0.31, 283 * mpa}, nil
	case strings.Contains(n, "625"):
		return Material{"nickel alloy 625", 208 * gpa, 0.28, 414 * mpa}, nil
	case strings.Contains(n, "400"):
		return Material{"nickel copper alloy 400", 179 * gpa, 0.32, 193 * mpa}, nil
	}
	return Material{}, fmt.Errorf("pipe: no elastic properties are known for material %q; ask the maker for the float's pressure rating", name)
}
