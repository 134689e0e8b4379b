package compare_test

import (
	"strings"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/coverage"
)

// A level at rest shows no delay between two signals, and the list of what
// cannot be seen says so; one that moved for weeks shows it.
func TestBlindForDelaysAtRest(t *testing.T) {
	delays := func(p *plant) (what []string) {
		for _, b := range p.g.Blind(p.now, &p.st) {
			if strings.HasPrefix(b.ID, "delay-") {
				what = append(what, b.What)
			}
		}
		return what
	}
	sheet := baseSheet()
	fine(&sheet)
	moved := commissioned(t, sheet, 31)
	if got := delays(moved); len(got) != 0 {
		t.Errorf("after two weeks of movement: %q", got)
	}
	rest := newPlant(t, sheet, 31)
	rest.step, rest.level = time.Minute, func(float64) float64 { return 500 }
	rest.run(48 * time.Hour)
	if got := delays(rest); len(got) != 1 || got[0] != "clocks or filters of LI-101 and LT-101 apart" {
		t.Errorf("at rest: %q", got)
	}
	var unknown compare.State
	if got := rest.g.Blind(rest.now, &unknown); len(got) == 0 {
		t.Error("a gauge that saw nothing yet has no blind spot")
	}
}

// Where the density is known to one per cent only, what can hide in that is said
// in millimetres and days; where it is known well nothing is.
func TestBlindForSmallErrors(t *testing.T) {
	small := func(u float64) (list []coverage.BlindSpot) {
		sheet := baseSheet()
		fine(&sheet)
		sheet.Fluid.RelativeU = u
		p := commissioned(t, sheet, 31)
		for _, b := range p.g.Blind(p.now, &p.st) {
			if strings.HasPrefix(b.ID, "small-") {
				list = append(list, b)
			}
		}
		return list
	}
	if got := small(0.0005); len(got) != 0 {
		t.Errorf("a density known well: %+v", got)
	}
	got := small(0.02)
	if len(got) != 1 || got[0].ID != "small-LI-101-LT-101" || !strings.Contains(got[0].Why, "density of the liquid") {
		t.Fatalf("a density known to 2 %%: %+v", got)
	}
	t.Log(got[0].What, "-", got[0].Why)
}

// A second chamber hangs on the connections of the first: what plugs them hides
// from both.
func TestBlindForConnectionsOfTwoChambers(t *testing.T) {
	sheet := baseSheet()
	sheet.Transmitter.Chamber = "secondary"
	blind := func() bool {
		g, err := compare.New(sheet)
		if err != nil {
			t.Fatal(err)
		}
		var st compare.State
		for _, b := range g.Blind(began, &st) {
			if b.ID == "lower-connection" {
				return true
			}
		}
		return false
	}
	if !blind() {
		t.Error("a plugged connection of two chambers without a level on the vessel is no blind spot")
	}
	withVessel(&sheet)
	if blind() {
		t.Error("a level on the vessel shows a plugged connection")
	}
}
