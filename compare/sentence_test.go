package compare_test

import (
	"slices"
	"testing"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
)

// TestCausesSayWhichTransmitter lists the same cause of two transmitters, and
// more causes than a sentence holds.
func TestCausesSayWhichTransmitter(t *testing.T) {
	sheet := baseSheet()
	sheet.Second = &datasheet.Transmitter{Tag: "LT-2", Principle: datasheet.DPDry, Chamber: "same", U: 2e-3, UPressure: 8}
	p := newPlant(t, sheet, 1)
	set := []cause.Ranked{
		{Cause: cause.TransmitterZero, Suspect: cause.Transmitter, Tag: "LT-101"},
		{Cause: cause.TransmitterZero, Suspect: cause.Transmitter, Tag: "LT-2"},
		{Cause: cause.FloatStuck, Suspect: cause.Float},
		{Cause: cause.Unknown},
	}
	want := []string{"transmitter zero shifted (LT-101)", "transmitter zero shifted (LT-2)", "float stuck"}
	if got := p.g.Remaining(set); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	for range 3 {
		set = append(set, cause.Ranked{Cause: cause.DensityWrong, Suspect: cause.Density})
	}
	if got := p.g.Remaining(set); len(got) != 5 || got[4] != "2 others" {
		t.Errorf("%q does not count the others", got)
	}
}

// What no single cause explains is said so: beside a name that stands, or where
// none does.
func TestSomethingMoreIsSaid(t *testing.T) {
	p := newPlant(t, baseSheet(), 1)
	stuck := cause.Ranked{Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-101", Probability: 1}
	zero := cause.Ranked{Cause: cause.TransmitterZero, Suspect: cause.Transmitter, Tag: "LT-101", Probability: .5}
	density := cause.Ranked{Cause: cause.DensityWrong, Suspect: cause.Density, Tag: "LI-101", Probability: .5}
	for _, r := range []struct {
		f    cause.Finding
		want string
	}{
		{cause.Finding{Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-101", Set: []cause.Ranked{stuck, zero}, More: true},
			"Float is probably stuck. Something more does not fit: perhaps transmitter zero shifted."},
		{cause.Finding{Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-101", Set: []cause.Ranked{stuck}, More: true},
			"Float is probably stuck. Something more does not fit."},
		{cause.Finding{Cause: cause.Unknown, Suspect: cause.Undecided, Set: []cause.Ranked{density, zero}, More: true},
			"No single fault explains this, and which two do is not decided yet: density other than assumed, transmitter zero shifted or something else."},
		{cause.Finding{Cause: cause.Unknown, Suspect: cause.Undecided, More: true}, "No single fault explains this; the causes are open."},
	} {
		if got := p.g.Means(&r.f); got != r.want {
			t.Errorf("%q, want %q", got, r.want)
		}
	}
}

// A name that stands is said with its own causes; those of others that the newest
// weighing left are told apart from them.
func TestNameIsSaidWithItsOwnCauses(t *testing.T) {
	p := newPlant(t, baseSheet(), 1)
	span := cause.Ranked{Cause: cause.TransmitterSpan, Suspect: cause.Transmitter, Tag: "LT-101", Probability: .3, Nats: -4}
	stuck := cause.Ranked{Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-101", Probability: .7}
	f := cause.Finding{Cause: cause.Unknown, Suspect: cause.Transmitter, Tag: "LT-101", Set: []cause.Ranked{stuck}}
	f.Hold([]cause.Ranked{stuck, span})
	if want := []cause.Ranked{stuck, span}; !slices.Equal(f.Set, want) {
		t.Errorf("the set is %v, want %v", f.Set, want)
	}
	if got, want := p.g.Means(&f), "Transmitter LT-101 is suspect: transmitter span wrong or something else. Not ruled out: float stuck."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	before := len(f.Set)
	if f.Hold([]cause.Ranked{stuck, span}); len(f.Set) != before {
		t.Errorf("held twice: %v", f.Set)
	}
}
