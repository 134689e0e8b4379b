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
