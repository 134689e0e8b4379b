package bench

import (
	"slices"
	"strings"

	"bridlewatch/compare/scenario"
)

// Goal is what is asked of the comparison in one regard, and what this run
// shows of it.
type Goal struct {
	What    string  `json:"goal"`
	On      string  `json:"on,omitempty"` // the trials it is counted on, where not all
	Figure  Number  `json:"figure"`
	Limit   float64 `json:"limit"`
	Unit    string  `json:"unit,omitempty"`
	AtLeast bool    `json:"at_least"` // the limit is the least; otherwise the most
	Met     bool    `json:"met"`
	Of      float64 `json:"of"` // trials, judged findings or gauge-years behind the figure
}

// knownWithin is how far the liquid may move a healthy gap within weeks, mm, for
// slow errors to be asked for in the time of the goals: 12 mm a month are 7 mm
// after 18 days, and where a product alone may do as much nobody can tell sooner.
// A gauge says so itself, see compare.Gauge.Blind.
const knownWithin = 5.0

// goals judges what was run; what was not run has no goal, and naming is judged
// over the whole ladder only.
func (r *Report) goals(whole bool) (list []Goal) {
	add := func(g Goal) {
		if g.Of == 0 {
			return
		}
		f := float64(g.Figure)
		g.Met = g.AtLeast && f >= g.Limit || !g.AtLeast && f <= g.Limit
		list = append(list, g)
	}
	for _, h := range r.Healthy {
		if limit, asked := falseMost[h.Class]; asked {
			add(Goal{What: "false alerts per gauge-year at 95 %, " + h.Class, Figure: Number(h.Upper), Limit: limit, Of: h.Years})
		}
	}
	for i := range asked {
		a := &asked[i]
		for _, known := range a.on() {
			mine := r.trials(a, known)
			g := Goal{What: a.what, Figure: Number(a.figure(mine)), Limit: a.limit, Unit: a.unit, AtLeast: a.atLeast, Of: float64(len(mine))}
			if known {
				g.On = "where the liquid may move the gap by at most 5 mm in weeks"
			}
			add(g)
		}
	}
	for _, a := range r.Attribution {
		if !whole || a.Of != ladder || a.After != judgedAfter[len(judgedAfter)-1].String() {
			continue
		}
		with, limits := "with a level on the vessel", namedLeast[0]
		if !a.Vessel {
			with, limits = "without a level on the vessel", namedLeast[1]
		}
		for k, figure := range []float64{a.Right, a.Decided, a.Covers} {
			if limits[k] > 0 {
				add(Goal{What: namedWords[k] + " after 3 d, " + with, Figure: Number(figure), Limit: limits[k], AtLeast: true, Of: float64(a.Judged)})
			}
		}
	}
	return list
}

// falseMost are the most false alerts per gauge-year that may remain possible,
// by class of service.
var falseMost = map[string]float64{scenario.Benign().Name: 0.01, scenario.Harsh().Name: 0.05, scenario.Foaming().Name: 0.05}

// What is asked of naming: right when decided, decided, covered by the set; with
// a level on the vessel and without, 0: not asked.
var (
	namedWords = [...]string{"right when decided", "decided", "set covers"}
	namedLeast = [2][3]float64{{0.99, 0.85, 0.98}, {0.90, 0, 0.95}}
)

// ask is a goal for cells of the ladder, of which each name begins with one of
// those given.
type ask struct {
	what    string
	cells   []string
	figure  func([]outcome) float64
	limit   float64
	unit    string
	atLeast bool
	slow    bool // counted also where the liquid is known
	vessel  bool // only gauges with a level on the vessel
}

var asked = []ask{
	{what: "zero 15 to 20 mm found", cells: []string{"transmitter-zero 15 mm", "transmitter-zero 20 mm"}, figure: detected, limit: 0.99, atLeast: true},
	{what: "zero 15 to 20 mm, watch, median", cells: []string{"transmitter-zero 15 mm", "transmitter-zero 20 mm"}, figure: watchMedian, limit: 60, unit: "min"},
	{what: "zero 15 to 20 mm, alert, nine in ten", cells: []string{"transmitter-zero 15 mm", "transmitter-zero 20 mm"}, figure: alertP90, limit: 4.5, unit: "h", slow: true},
	{what: "zero 10 mm, alert, nine in ten", cells: []string{"transmitter-zero 10 mm"}, figure: alertP90, limit: 24, unit: "h", slow: true},
	{what: "span 2 %, alert, nine in ten", cells: []string{"transmitter-span 2 %"}, figure: alertP90, limit: 48, unit: "h", slow: true},
	{what: "drift 12 mm a month, alert, nine in ten", cells: []string{"transmitter-drift 12 mm/month"}, figure: alertDaysP90, limit: 18, unit: "d", slow: true},
	{what: "drift 12 mm a month, warning before 25 mm, nine in ten", cells: []string{"transmitter-drift 12 mm/month"}, figure: warningP90, limit: 35, unit: "d", atLeast: true, slow: true},
	{what: "float heavier 12 mm a month, alert, nine in ten", cells: []string{"float-heavier 12 mm/month"}, figure: alertDaysP90, limit: 18, unit: "d", slow: true},
	{what: "float heavier 12 mm a month, warning before 25 mm, nine in ten", cells: []string{"float-heavier 12 mm/month"}, figure: warningP90, limit: 35, unit: "d", atLeast: true, slow: true},
	{what: "float stuck, alert, nine in ten", cells: []string{"float-stuck"}, figure: alertP90, limit: 24, unit: "h"},
	{what: "float stuck, moves of the level, nine in ten", cells: []string{"float-stuck"}, figure: movesP90, limit: 3},
	{what: "float sunk, alert, nine in ten", cells: []string{"float-sunk"}, figure: alertMinutesP90, limit: 5, unit: "min"},
	{what: "switch failed, passes of it, of which it misses every other, median", cells: []string{"point-failed"}, figure: passesMedian, limit: 4},
	{what: "switch shifted 15 mm, passes of it, nine in ten", cells: []string{"point-shifted 15 mm"}, figure: passesP90, limit: 10},
	{what: "connection plugged, alert, nine in ten", cells: []string{"lower-plugged", "upper-plugged"}, figure: alertP90, limit: 48, unit: "h", vessel: true},
	{what: "noise lost, found", cells: []string{"transmitter-noise-lost"}, figure: detected, limit: 0.99, atLeast: true},
}

// on says on which trials a goal is counted: all, and those whose liquid is
// known well where that decides.
func (a *ask) on() []bool {
	if a.slow {
		return []bool{false, true}
	}
	return []bool{false}
}

// trials are the trials of the ladder a goal is about.
func (r *Report) trials(a *ask, known bool) (list []outcome) {
	for _, f := range r.Faults {
		if f.Group != ladder || !slices.ContainsFunc(a.cells, func(c string) bool { return strings.HasPrefix(f.Name, c) }) {
			continue
		}
		for _, o := range f.sample {
			if (!known || o.known()) && (!a.vessel || o.vessel) {
				list = append(list, o)
			}
		}
	}
	return list
}

// known reports whether the liquid may move a healthy gap of float and
// transmitter by little, see
// knownWithin.
func (o *outcome) known() bool { return o.varies > 0 && o.varies <= knownWithin }

// figure makes a quantile over trials in which a fault could show; what was never
// found counts as endless.
func figure(p float64, of func(*outcome) float64) func([]outcome) float64 {
	return func(all []outcome) float64 {
		var found []float64
		for i := range all {
			if all[i].alert >= 0 {
				found = append(found, of(&all[i]))
			}
		}
		return quantile(found, len(all)-len(found), p)
	}
}

var (
	alertP90        = figure(0.9, func(o *outcome) float64 { return o.alert.Hours() })
	alertMinutesP90 = figure(0.9, func(o *outcome) float64 { return o.alert.Minutes() })
	alertDaysP90    = figure(0.9, func(o *outcome) float64 { return o.alert.Hours() / 24 })
	watchMedian     = figure(0.5, func(o *outcome) float64 { return o.watch.Minutes() })
	movesP90        = figure(0.9, func(o *outcome) float64 { return float64(o.moves) })
	passesMedian    = figure(0.5, func(o *outcome) float64 { return float64(o.passes) })
	passesP90       = figure(0.9, func(o *outcome) float64 { return float64(o.passes) })
)

// warningP90 is how long before its error reaches 25 mm a drift is announced,
// days, in the worst of nine in ten.
func warningP90(all []outcome) float64 {
	return -figure(0.9, func(o *outcome) float64 { return -o.warning })(all)
}

func detected(all []outcome) float64 {
	n := 0
	for _, o := range all {
		if o.alert >= 0 {
			n++
		}
	}
	return float64(n) / float64(len(all))
}
