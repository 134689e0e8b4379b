package compare_test

import (
	"strings"
	"testing"
	"time"

	"bridlewatch/compare"
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
