package quantity

// Step is one line of a worked calculation, for people who check it by hand.
type Step struct {
	Symbol  string  `json:"symbol"`  // "ρ*"
	Meaning string  `json:"meaning"` // "density at 60 °F on IPTS-68"
	Value   float64 `json:"value"`
	Unit    string  `json:"unit"`   // of Value; "" for a pure number
	Source  string  `json:"source"` // equation with its document, or "as given"

	Equation string `json:"equation,omitempty"` // in symbols, where the source alone does not say it
}

// Given is the source of a value that the calculation starts from.
const Given = "as given"
