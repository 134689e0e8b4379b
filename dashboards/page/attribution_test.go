package page

import (
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/units"
)

// The causes of two faults stand in a set by couples: the page shows the
// likeliest first, and calls nothing certain.
func TestCausesLikeliestFirst(t *testing.T) {
	f := cause.Finding{Cause: cause.TwoFaults, Suspect: cause.Undecided, Set: []cause.Ranked{
		{Cause: cause.FollowerShifted, Tag: "LI-1", Probability: .38},
		{Cause: cause.TransmitterZero, Tag: "LT-1", Probability: .9986},
		{Cause: cause.FloatStuck, Tag: "LI-1", Probability: .62},
	}}
	v := (&Pages{}).finding(f, units.Metric, time.Time{})
	want := []string{"LT-1 over\u00a099\u00a0%", "LI-1 62\u00a0%", "LI-1 38\u00a0%"}
	for i, r := range v.Ranked {
		if got := r.Tag + " " + r.Percent; got != want[i] {
			t.Errorf("cause %d is %q, want %q", i, got, want[i])
		}
	}
	if f.Set[0].Cause != cause.FollowerShifted {
		t.Error("the finding itself was changed")
	}
}
