package chamber

import (
	"fmt"
	"strings"

	"bridlewatch/compare/quantity"
)

// expansion is the mean coefficient of linear thermal expansion of a pipe
// material from 20 °C to a few hundred, from memory of ASME BPVC II-D table
// TE-1, good to 5 %.
type expansion struct {
	prefix string
	perK   float64
	name   string
}

func expansions() []expansion {
	return []expansion{
		{"31", 16.8e-6, "austenitic stainless steel"}, // 316, 316L, 317
		{"30", 17.0e-6, "austenitic stainless steel"}, // 304
		{"32", 16.8e-6, "austenitic stainless steel"}, // 321
		{"34", 16.8e-6, "austenitic stainless steel"}, // 347
		{"A312", 16.8e-6, "austenitic stainless steel"},
		{"A106", 12.4e-6, "carbon steel"},
		{"A333", 12.4e-6, "carbon steel"},
		{"CARBON", 12.4e-6, "carbon steel"},
		{"A335", 12.6e-6, "chromium molybdenum steel"},
		{"DUPLEX", 13.3e-6, "duplex stainless steel"},
		{"C-276", 11.9e-6, "nickel alloy C-276"},
		{"C276", 11.9e-6, "nickel alloy C-276"},
		{"400", 14.4e-6, "nickel copper alloy 400"},
		{"625", 13.1e-6, "nickel alloy 625"},
		{"825", 14.2e-6, "nickel alloy 825"},
		{"TITANIUM", 8.9e-6, "titanium"},
	}
}

// Expansion returns the mean coefficient of linear thermal expansion of a
// material in 1/K and what the material is. An unknown name is an error.
func Expansion(material string) (perK float64, name string, err error) {
	m := strings.ToUpper(strings.TrimSpace(material))
	for _, e := range expansions() {
		if strings.HasPrefix(m, e.prefix) {
			return e.perK, e.name, nil
		}
	}
	return 0, "", fmt.Errorf("chamber: no thermal expansion is known for material %q; look it up in the code for pressure vessels", material)
}

// Growth returns how much longer a length measured cold is at temperature t.
func Growth(cold quantity.Length, perK float64, from, t quantity.Temperature) quantity.Length {
	return cold * quantity.Length(perK*float64(t-from))
}
