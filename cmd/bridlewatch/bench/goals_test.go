package bench

import (
	"math"
	"testing"
	"time"
)

// Ten trials of a drift, found after 10 to 19 days or not at all: the goals are
// judged by the ninth of them, on all gauges and on those whose liquid is known.
func TestGoalsOfADrift(t *testing.T) {
	trials := func(misses int) (list []outcome) {
		for i := range 10 {
			o := outcome{alert: time.Duration(10+i) * 24 * time.Hour, varies: 2 + float64(i)}
			o.warning = 63.4 - float64(10+i)
			if i >= 10-misses {
				o.alert = -1
			}
			list = append(list, o)
		}
		return list
	}
	for _, row := range []struct {
		name            string
		misses          int
		alert, warning  float64
		known           float64 // of the four whose liquid may do 2 to 5 mm
		met, warningMet bool
	}{
		{"all found", 0, 18, 45.4, 13, true, true},
		{"one missed", 1, 18, 45.4, 13, true, true},
		{"two missed", 2, math.NaN(), math.NaN(), 13, false, false},
	} {
		r := &Report{Faults: []Fault{{Name: "transmitter-drift 12 mm/month", Group: ladder, sample: trials(row.misses)}}}
		goals := r.goals(true)
		if len(goals) != 4 {
			t.Fatalf("%s: %d goals: %+v", row.name, len(goals), goals)
		}
		for i, want := range []struct {
			figure float64
			met    bool
			of     float64
		}{{row.alert, row.met, 10}, {row.known, true, 4}, {row.warning, row.warningMet, 10}, {50.4, true, 4}} {
			g := goals[i]
			same := math.Abs(float64(g.Figure)-want.figure) < 1e-9 || math.IsNaN(want.figure) && math.IsNaN(float64(g.Figure))
			if !same || g.Met != want.met || g.Of != want.of {
				t.Errorf("%s, %s %s: %+v, want %+v", row.name, g.What, g.On, g, want)
			}
		}
	}
}

// A run of some cells says nothing of naming, and what was not run has no goal.
func TestGoalsNeedTheirTrials(t *testing.T) {
	r := &Report{
		Healthy:     []Healthy{{Class: "benign", Years: 300, Upper: 0.00999}, {Class: "eventful", Years: 60, Upper: 1}},
		Attribution: []Attributed{{Of: ladder, After: "72h0m0s", Vessel: true, Named: Named{Judged: 50, Decided: 0.84, Right: 1, Covers: 1}}},
	}
	if goals := r.goals(false); len(goals) != 1 || !goals[0].Met {
		t.Errorf("some cells: %+v, want the benign goal met and no other", goals)
	}
	goals := r.goals(true)
	if len(goals) != 4 || !goals[1].Met || goals[2].Met || !goals[3].Met {
		t.Errorf("whole ladder: %+v, want right met, decided missed, covers met", goals)
	}
}

// Every goal is about cells there are.
func TestGoalsNameCells(t *testing.T) {
	r := &Report{}
	o := Options{Set: "tune", Years: -1, Repeats: 1, Every: time.Minute}
	if err := o.complete(); err != nil {
		t.Fatal(err)
	}
	for _, c := range newPlan(&o).cells {
		r.Faults = append(r.Faults, Fault{Name: c.Name(), Group: groupOf(&c), sample: []outcome{{alert: time.Hour, vessel: true, varies: 1}}})
	}
	for i := range asked {
		if len(r.trials(&asked[i], false)) == 0 {
			t.Errorf("%s: no cell of %v", asked[i].what, asked[i].cells)
		}
	}
}
