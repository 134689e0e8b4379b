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

// The heading says as much as is known of who is to blame.
func TestFindingHeading(t *testing.T) {
	follower := cause.Ranked{Cause: cause.FollowerShifted, Suspect: cause.Follower, Tag: "LI-1"}
	zero := cause.Ranked{Cause: cause.TransmitterZero, Suspect: cause.Transmitter, Tag: "LT-1"}
	drift := cause.Ranked{Cause: cause.TransmitterDrift, Suspect: cause.Transmitter, Tag: "LT-1"}
	for want, f := range map[string]cause.Finding{
		"Suspect: transmitter LT-1":              {Cause: cause.TransmitterZero, Suspect: cause.Transmitter, Tag: "LT-1", Set: []cause.Ranked{zero}},
		"Suspect: LT-1, cause open":              {Cause: cause.Unknown, Suspect: cause.Undecided, Set: []cause.Ranked{zero, drift}},
		"Something is wrong, cause open":         {Cause: cause.Unknown, Suspect: cause.Undecided, Set: []cause.Ranked{zero, follower}},
		"Two suspects at once: LI-1 and LT-1":    {Cause: cause.TwoFaults, Suspect: cause.Undecided, Set: []cause.Ranked{follower, zero}},
		"Two faults at once, which ones is open": {Cause: cause.TwoFaults, Suspect: cause.Undecided, Set: []cause.Ranked{follower, zero, drift}},
	} {
		if got := findingHeading(f); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
