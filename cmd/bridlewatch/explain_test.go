package main

import (
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/units"
)

func TestAFindingIsPrintedWithItsCausesLikeliestFirst(t *testing.T) {
	var b strings.Builder
	printFinding(&b, cause.Finding{
		Tier: cause.Alert, Since: time.Date(2026, 3, 1, 8, 30, 0, 0, time.UTC), Sentence: "Float has not moved for 13 min.", Next: "Drain test, 10 min.",
		Set: []cause.Ranked{{Cause: cause.FollowerDecoupled, Tag: "LI-1", Probability: 0.2}, {Cause: cause.FloatStuck, Tag: "LI-1", Probability: 0.795}, {Cause: cause.Unknown, Probability: 0.005}},
	})
	want := `alert since 2026-03-01 08:30  Float has not moved for 13 min.
    causes   float stuck (LI-1) 80 %, follower lost the magnet (LI-1) 20 %, cause not in the list under 1 %
    next     Drain test, 10 min.

`
	if got := strings.ReplaceAll(b.String(), units.NoBreak, " "); got != want {
		t.Errorf("printed\n%s\nwant\n%s", got, want)
	}
}
