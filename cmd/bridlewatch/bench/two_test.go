package bench

import (
	"slices"
	"testing"
	"time"

	"bridlewatch/compare/scenario"
)

// A density that is wrong lets a dp read low and a zero lets it read high: the
// float alone seems to be off, and no third cause is named for it.
func TestDensityAndZeroAreNotTakenForTheFloat(t *testing.T) {
	ladder := scenario.Ladder()
	i := slices.IndexFunc(ladder, func(c scenario.Cell) bool { return c.Kind == scenario.DensityWrong && c.With != nil })
	if i < 0 {
		t.Fatal("no such cell")
	}
	trials := scenario.FaultTrials(scenario.Tune, ladder[i], 8, time.Minute)
	for _, n := range []int{1, 6, 7} {
		out, err := runTrial(t.Context(), &trials[n])
		if err != nil {
			t.Fatal(err)
		}
		if j := out.judged[len(judgedAfter)-1]; !j.made || j.decided && !j.right || !j.covers {
			t.Errorf("trial %d of %s: %+v", n, trials[n].Make, j)
		}
	}
}
