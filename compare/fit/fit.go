// Package fit checks a data sheet before the gauge is built, or before its
// service changes: is the float right for the range of density, how far does
// the reading move over it, what is the reserve, what is the smallest gap that
// means something, and what does the trade usually do otherwise.
//
// What it calculates is the physics of package gauge. Pressures it states are
// plausibility bounds (package pipe), never ratings. Advice is marked with its
// basis; advice of common practice has no source.
package fit

import (
	"fmt"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// Weight says how much an advice matters.
type Weight string

// Weights, heaviest first.
const (
	Problem Weight = "problem" // the gauge will not do its job
	Warning Weight = "warning" // it will, with a limit somebody must know
	Note    Weight = "note"
)

// FluidTopic is that of an advice on a model of the liquid which the data sheet
// contradicts.
const FluidTopic = "specific gravity"

// Basis says where an advice comes from.
type Basis string

// Bases.
const (
	Calculated     Basis = "calculated"
	FromSheet      Basis = "data sheet"
	CommonPractice Basis = "common practice, no source"
)

// Advice is one thing the application engineer should know.
type Advice struct {
	Weight   Weight `json:"weight"`
	Topic    string `json:"topic"`
	Sentence string `json:"sentence"`
	Basis    Basis  `json:"basis"`
}

// AtDensity is the float at one density of the range in service.
type AtDensity struct {
	What      string  `json:"what"` // "lowest in service", ...
	SG        float64 `json:"sg"`
	Density   float64 `json:"density_kg_m3"`
	Swims     bool    `json:"swims"`
	Why       string  `json:"why,omitempty"` // it does not
	Immersion float64 `json:"immersion_mm"`
	Above     float64 `json:"above_surface_mm"`
	Shift     float64 `json:"reads_off_mm"` // indication less surface, uncorrected
	Reserve   float64 `json:"reserve"`      // lift over weight, or whole volume over that below an interface; sinks at 1
	Spare     float64 `json:"spare_mass_g"`
	Uplift    float64 `json:"uplift_n"`
	PerTenG   float64 `json:"mm_per_10_g"`    // a deposit or leak lowers the reading by this
	DeadBand  float64 `json:"mm_per_0_1_n"`   // friction holds the float by this, either way
	PerSG     float64 `json:"mm_per_0_01_sg"` // the reading moves by this per 0.01 of specific gravity
}

// GapAt is the smallest gap that means something at one level.
type GapAt struct {
	Pair      string  `json:"pair"`
	Level     float64 `json:"level_mm"`
	Allowed   float64 `json:"allowed_mm"`
	U         float64 `json:"u_mm"`
	Dominates string  `json:"dominates"`
}

// Cold is the chamber against the vessel at one level.
type Cold struct {
	Vessel  float64 `json:"vessel_mm"`
	Chamber float64 `json:"chamber_mm"`
}

// Bound is a pressure of package pipe with what it is.
type Bound struct {
	What     string  `json:"what"`
	Bar      float64 `json:"bar"` // gauge, or difference
	By       string  `json:"by"`
	Demand   float64 `json:"demand_bar"`
	Caution  string  `json:"caution"`
	Stated   float64 `json:"stated_bar,omitempty"` // by the maker
	Exceeded bool    `json:"exceeded"`
}

// Report is the answer.
type Report struct {
	Gauge     string      `json:"gauge"`
	Service   string      `json:"service"`
	Verdict   string      `json:"verdict"`
	Range     []AtDensity `json:"range"`
	Movement  float64     `json:"movement_mm"` // of an uncorrected reading over the range in service
	Gaps      []GapAt     `json:"gaps"`
	Smallest  float64     `json:"smallest_gap_mm"` // float against transmitter, 0: no pair
	Cold      []Cold      `json:"chamber_against_vessel,omitempty"`
	Spans     []Span      `json:"transmitter_spans,omitempty"`
	Clearance float64     `json:"clearance_mm,omitempty"` // float to bore, each side
	Growth    float64     `json:"growth_mm,omitempty"`    // of the distance between the taps, cold to operating
	Bounds    []Bound     `json:"bounds,omitempty"`
	Advice    []Advice    `json:"advice"`

	between bool // the float swims between two liquids
}

// Check makes the report. A data sheet the model cannot be made of still gets
// one, with the reason as a problem. ranges are those of its signals, where
// they are known.
func Check(sheet datasheet.Sheet, ranges ...Range) Report {
	r := Report{Gauge: sheet.Tag, Service: sheet.Service, between: sheet.Fluid.Upper != nil}
	for _, p := range sheet.Validate() {
		r.advise(Problem, p.Path, capital(p.Message)+".", FromSheet)
	}
	sheet = sheet.Clone()
	sheet.Normalise()
	m, err := gauge.New(sheet)
	if err != nil {
		r.advise(Problem, "data sheet", capital(err.Error())+".", FromSheet)
	}
	c := &check{sheet: &sheet, model: m, report: &r}
	if m != nil {
		c.physics()
		c.spans(ranges)
	}
	c.mechanics()
	c.practice()
	r.conclude()
	return r
}

// check is one report in the making.
type check struct {
	sheet  *datasheet.Sheet
	model  *gauge.Model
	report *Report
	float  buoyancy.Warm // at the operating state
	above  quantity.Density
}

func (r *Report) advise(w Weight, topic, sentence string, basis Basis) {
	r.Advice = append(r.Advice, Advice{w, topic, sentence, basis})
}

func (r *Report) count(w Weight) int {
	n := 0
	for _, a := range r.Advice {
		if a.Weight == w {
			n++
		}
	}
	return n
}

func (r *Report) conclude() {
	problems, warnings := r.count(Problem), r.count(Warning)
	switch {
	case problems > 0:
		r.Verdict = fmt.Sprintf("Does not fit: %s.", plural(problems, "problem"))
	case warnings > 0:
		r.Verdict = fmt.Sprintf("Fits, with %s to know.", plural(warnings, "limit"))
	default:
		r.Verdict = "Fits."
	}
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
