package bench

import (
	"math"
	"slices"
	"strings"
	"time"

	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

// excite counts moves of 20 mm of the level and crossings of points since the
// onset, until the alert.
func (r *runner) excite(faulty bool) {
	truth := r.unit.Truth()
	level := float64(truth.Vessel)
	crossed := 0
	for i, p := range r.trial.Sheet.Points {
		if above := truth.Chamber > p.Elevation; above != r.above[i] {
			r.above[i] = above
			crossed++
		}
	}
	r.pass(faulty, truth.Chamber)
	if !r.started || !faulty {
		r.anchor, r.started = level, true
		return
	}
	if r.out.alert >= 0 {
		return
	}
	r.out.crosses += crossed
	if math.Abs(level-r.anchor) >= 20e-3 {
		r.anchor = level
		r.out.moves++
	}
}

// clearOf is how far beyond a point the level must be to have passed it for
// sure, differential and shift of the ladder included.
const clearOf = 40 * quantity.Millimetre

// pass counts how often the level passes the faulty point after the onset: a
// switch nothing works cannot be seen to fail.
func (r *runner) pass(faulty bool, level quantity.Length) {
	if r.faulty < 0 {
		return
	}
	side, at := 0, r.trial.Sheet.Points[r.faulty].Elevation
	switch {
	case level > at+clearOf:
		side = 1
	case level < at-clearOf:
		side = -1
	}
	if side == 0 {
		return
	}
	if faulty && side == -r.side {
		r.passes++
	}
	r.side = side
	r.out.exercised = r.passes >= passesLeast[r.trial.Options.Faults[0].Kind]
}

// passesLeast is how often a level must pass a faulty point before it can be
// known: a dead one misses two crossings, a shifted one errs three times each
// way.
var passesLeast = map[scenario.Kind]int{scenario.PointFailed: 2, scenario.PointShifted: 6, scenario.PointWidened: 10}

// blindTo is how the blind spots of faults begin that only movement or a calm
// level shows.
var blindTo = map[scenario.Kind]string{scenario.TimeSkew: "delay-", scenario.TransmitterNoiseLost: "noise-"}

// tell counts on how many days since the onset the gauge itself says that it
// could not see the fault.
func (r *runner) tell(now time.Time) {
	id, day := blindTo[r.faults[0].Kind], now.Unix()/86400
	if id == "" || r.out.alert >= 0 || day == r.day {
		return
	}
	r.day = day
	r.days++
	if slices.ContainsFunc(r.gauge.Blind(now, &r.state), func(b coverage.BlindSpot) bool { return strings.HasPrefix(b.ID, id) }) {
		r.blind++
	}
}

// faultyPoint is the index of the point the fault of a trial happens to, or -1.
func faultyPoint(t *scenario.Trial) int {
	for _, f := range t.Options.Faults {
		if _, yes := passesLeast[f.Kind]; yes {
			return slices.IndexFunc(t.Sheet.Points, func(p datasheet.Point) bool { return p.Tag == f.Part })
		}
	}
	return -1
}
