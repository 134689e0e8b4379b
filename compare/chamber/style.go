package chamber

import "fmt"

// Style is what the places of the two process connections mean.
type Style struct {
	Name string
	// Range says what the measured range is.
	Range string
	// Room says what the float needs beyond it.
	Room string
	// Watch says what this style gets wrong first.
	Watch string
}

// StyleOf returns what a connection style means. Common practice, no source.
func StyleOf(name string) (Style, error) {
	switch name {
	case "side-side":
		return Style{name,
			"from centre to centre of the two side connections",
			"free pipe below the lower connection for the immersed part of the float, above the upper one for the rest",
			"the dead leg below the lower connection collects sludge and water and is drained from time to time, under the permit of the site"}, nil
	case "side-bottom":
		return Style{name,
			"from the elevation where the bottom connection enters the vessel to the centre of the upper side connection",
			"free pipe above the upper connection only; the float stops on the bottom connection",
			"solids settle in the bottom connection and plug it"}, nil
	case "top-bottom":
		return Style{name,
			"between the elevations where the two connections enter the vessel",
			"none beyond the connections: the float's travel ends where the pipe does",
			"condensate or liquid caught in the top connection holds the upper end back; slope it towards the vessel"}, nil
	case "top-side":
		return Style{name,
			"from the centre of the lower side connection to the elevation where the top connection enters the vessel",
			"free pipe below the lower connection for the immersed part of the float",
			"liquid caught in the top connection holds the upper end back; slope it towards the vessel"}, nil
	}
	return Style{}, fmt.Errorf("chamber: connection style %q is not one of side-side, side-bottom, top-bottom, top-side", name)
}
