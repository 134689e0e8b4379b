package gauge

import (
	"fmt"
	"strings"

	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// Instrument names one level instrument of a gauge.
type Instrument uint8

// Instruments.
const (
	TheFloat Instrument = iota
	TheTransmitter
	TheSecond
	TheVessel
)

var instrumentNames = [...]string{"float", "transmitter", "second", "vessel"}

func (i Instrument) String() string { return instrumentNames[i] }

// ParseInstrument returns the Instrument of its name: float, transmitter,
// second or vessel.
func ParseInstrument(name string) (Instrument, error) {
	for i, n := range instrumentNames {
		if n == name {
			return Instrument(i), nil
		}
	}
	return 0, fmt.Errorf("instrument %q is not one of %s", name, strings.Join(instrumentNames[:], ", "))
}

// Explanation is one conversion with every step.
type Explanation struct {
	Gauge        string          `json:"gauge"`
	Instrument   string          `json:"instrument"`
	Tag          string          `json:"tag"`
	Principle    string          `json:"principle"`
	Steps        []quantity.Step `json:"steps"`
	Liquid       []quantity.Step `json:"liquid_density"` // how the density of the chamber's liquid was found
	Gas          []quantity.Step `json:"gas_density,omitempty"`
	Permittivity []quantity.Step `json:"gas_permittivity,omitempty"`
	Bound        string          `json:"bound"`            // "within", or at which tap
	Reason       string          `json:"reason,omitempty"` // why there is no level
	Level        float64         `json:"level_mm"`         // in the chamber; 0 unless within
	U            float64         `json:"u_mm"`
	Expanded     float64         `json:"expanded_mm"`
	Coverage     float64         `json:"k"`
	VesselOK     bool            `json:"in_vessel_known"`
	InVessel     float64         `json:"in_vessel_mm"` // by the hydrostatic balance
	InVesselU    float64         `json:"in_vessel_u_mm"`
	Densities    []Inference     `json:"densities,omitempty"` // that would close the gaps to the other instruments of the chamber
	Notes        []string        `json:"notes,omitempty"`     // what the numbers rest on
}

// add books one step.
func (e *Explanation) add(symbol, meaning string, value float64, unit, equation, source string) {
	e.Steps = append(e.Steps, quantity.Step{Symbol: symbol, Meaning: meaning, Value: value, Unit: unit, Equation: equation, Source: source})
}

func (e *Explanation) length(symbol, name string, l quantity.Length, equation, source string) {
	e.add(symbol, name, l.Millimetres(), "mm", equation, source)
}

func (e *Explanation) density(symbol, name string, d float64, equation, source string) {
	e.add(symbol, name, d, "kg/m3", equation, source)
}

// conclude books the level and its uncertainty.
func (e *Explanation) conclude(l, inVessel *level.Level, coverage float64) {
	e.Bound, e.Coverage = l.Bound.String(), coverage
	if l.Bound == level.None || l.Marked {
		e.Reason = l.Reason.String()
	}
	if l.OK() {
		e.Level, e.U = l.Value.Millimetres(), l.U().Millimetres()
		e.Expanded = coverage * e.U
	}
	if inVessel.OK() {
		e.VesselOK, e.InVessel, e.InVesselU = true, inVessel.Value.Millimetres(), inVessel.U().Millimetres()
	}
}

// Text prints the steps as a table.
func (e Explanation) Text() string {
	var w strings.Builder
	fmt.Fprintf(&w, "%s, %s %s (%s), every step\n\n", e.Gauge, e.Instrument, e.Tag, e.Principle)
	writeSteps(&w, e.Steps)
	for _, part := range []struct {
		title string
		steps []quantity.Step
	}{{"Density of the liquid in the chamber", e.Liquid}, {"Density of the gas in the chamber", e.Gas}, {"Permittivity of the gas in the chamber", e.Permittivity}} {
		if len(part.steps) > 0 {
			fmt.Fprintf(&w, "\n%s\n", part.title)
			writeSteps(&w, part.steps)
		}
	}
	w.WriteByte('\n')
	switch {
	case e.Bound == level.Within.String():
		fmt.Fprintf(&w, "Level in the chamber %.1f mm above the lower tap, u = %.2f mm, U = %.2f mm (k = %.3g)\n", e.Level, e.U, e.Expanded, e.Coverage)
	case e.Bound == level.None.String():
		fmt.Fprintf(&w, "No level: %s\n", e.Reason)
	default:
		fmt.Fprintf(&w, "Level %s; how far beyond cannot be told\n", e.Bound)
	}
	if e.VesselOK {
		fmt.Fprintf(&w, "Level in the vessel %.1f mm above the lower tap, u = %.2f mm, by the hydrostatic balance\n", e.InVessel, e.InVesselU)
	}
	for _, d := range e.Densities {
		fmt.Fprintf(&w, "Density by the gap %s: %s\n", d.Between, d.Sentence)
	}
	for _, n := range e.Notes {
		fmt.Fprintf(&w, "Note: %s\n", n)
	}
	return w.String()
}

func writeSteps(w *strings.Builder, steps []quantity.Step) {
	for _, s := range steps {
		unit := s.Unit
		if unit == "1" {
			unit = ""
		}
		fmt.Fprintf(w, "  %-6s %-46s %14.8g %-6s", s.Symbol, s.Meaning, s.Value, unit)
		if s.Equation != "" {
			fmt.Fprintf(w, "  %s", s.Equation)
		}
		if s.Source != "" {
			fmt.Fprintf(w, "  [%s]", s.Source)
		}
		w.WriteByte('\n')
	}
}
