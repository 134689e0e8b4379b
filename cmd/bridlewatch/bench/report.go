package bench

import (
	"encoding/json"
	"math"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/scenario"
)

// Report is everything the benchmark found.
type Report struct {
	Set     scenario.Set `json:"set"`
	Every   float64      `json:"scan_s"`
	Workers int          `json:"workers"`
	Seconds float64      `json:"run_s"`

	Healthy     []Healthy    `json:"healthy"`
	Faults      []Fault      `json:"faults"`
	Attribution []Attributed `json:"attribution"`
	Confusion   Confusion    `json:"confusion"`
	Baselines   []Baseline   `json:"baselines"`
	Wells       []Well       `json:"wells,omitempty"`
	WellFaults  []WellFault  `json:"well_faults,omitempty"`
	Goals       []Goal       `json:"goals"`
	Oddities    []Oddity     `json:"oddities,omitempty"`
}

// Healthy is one class of healthy service.
type Healthy struct {
	Class     string   `json:"class"`
	Years     float64  `json:"gauge_years"`
	Episodes  int      `json:"alert_episodes"`
	Gauges    int      `json:"gauges_with_alerts"`
	Rate      Interval `json:"per_gauge_year"`
	Upper     float64  `json:"upper_95_one_sided"`
	Watches   float64  `json:"watches_per_gauge_year"`
	Baselines []Rate   `json:"baselines"` // at their defaults

	WatchKinds map[string]int `json:"watch_kinds,omitempty"` // by symptom
}

// Rate is the false episodes of a baseline.
type Rate struct {
	Name string   `json:"name"`
	Rate Interval `json:"per_gauge_year"`
}

// Fault is one fault of one size.
type Fault struct {
	Name      string        `json:"fault"`
	Kind      scenario.Kind `json:"kind"`
	Group     string        `json:"group"`
	Trials    int           `json:"trials"`          // in which the fault could show
	Idle      int           `json:"never_exercised"` // others, in which the level did not pass the faulty point often enough or the gauge said it is blind to the fault
	Detected  Interval      `json:"detected"`
	Watch     Delay         `json:"watch_h"`
	Alert     Delay         `json:"alert_h"`
	Moves     Delay         `json:"moves"`
	Crossings Delay         `json:"crossings"`
	Warning   Delay         `json:"warning_before_25mm_d,omitzero"` // drifts: median and the least of nine in ten, days
	OverCusum Number        `json:"delay_over_cusum_delay,omitzero"`
	Named     [3]Named      `json:"named"` // 6 h, 1 d, 3 d after the alert
	Against   []Against     `json:"against"`
	sample    []outcome
}

// Delay is a distribution of delays, misses counted as endless.
type Delay struct {
	Median Number `json:"median"`
	P90    Number `json:"p90"`
}

// Named is how the fault was attributed.
type Named struct {
	Judged  int     `json:"judged"`
	Decided float64 `json:"decided"`
	Right   float64 `json:"right_when_decided"`
	Exact   float64 `json:"exact_cause"`
	Covers  float64 `json:"set_covers"`
	Size    float64 `json:"set_size"`
	Wrong   float64 `json:"silent_wrong"` // share that names a wrong instrument
}

// Against is a baseline on the same trials.
type Against struct {
	Name     string   `json:"name"`
	TunedTo  string   `json:"tuned_to,omitempty"` // "": at its default
	Detected Interval `json:"detected"`
	MedianH  Number   `json:"median_h"`

	ours, oursH float64 // what we find on the trials it could, and the median hours
}

// Attributed is the attribution over all faults.
type Attributed struct {
	After  string `json:"after"`
	Of     string `json:"of"` // one fault, two faults, ...
	Vessel bool   `json:"vessel_level"`
	Named
}

// Confusion counts what was named three days after the alert.
type Confusion struct {
	Truth []cause.Suspect `json:"truth"`
	Named []cause.Suspect `json:"named"`
	Count [][]int         `json:"count"`
}

// Baseline is a baseline with the threshold that meets the budget.
type Baseline struct {
	Name      string   `json:"name"`
	TunedTo   string   `json:"tuned_to"`
	Default   float64  `json:"default_threshold"`
	Tuned     Number   `json:"tuned_threshold"` // NaN: no threshold of the ladder meets the budget
	TunedRate Interval `json:"tuned_rate"`
	Faults    int      `json:"fault_kinds"`
	Beaten    int      `json:"fault_kinds_found_sooner_by_us"`
	Not       []string `json:"not_beaten,omitempty"`
}

// Oddity is one trial that went wrong, for the people who improve the core.
type Oddity struct {
	What     string  `json:"what"` // "false alert", "missed", "wrong name"
	Trial    string  `json:"trial"`
	Make     string  `json:"make"`
	Seed     string  `json:"seed"`
	Hours    float64 `json:"h"`
	Episode  string  `json:"episode,omitempty"`
	Sentence string  `json:"sentence,omitempty"`
}

// Number is a figure that may not exist; it is null in JSON then.
type Number float64

// MarshalJSON writes null for what does not exist.
func (n Number) MarshalJSON() ([]byte, error) {
	if v := float64(n); math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// IsZero leaves out what was never computed.
func (n Number) IsZero() bool { return n == 0 }

// tunedTo is the false alert budget of the tuned baselines, episodes per
// gauge-year.
const tunedTo = 0.05

func hours(d time.Duration) float64 { return d.Hours() }
