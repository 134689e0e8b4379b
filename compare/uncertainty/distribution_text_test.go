package uncertainty

import "testing"

// A budget is stored with records: what is written must be read.
func TestDistributionTextRoundTrip(t *testing.T) {
	for d := Normal; d <= Student; d++ {
		text, err := d.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		var back Distribution
		if err := back.UnmarshalText(text); err != nil || back != d {
			t.Errorf("%s came back as %s: %v", d, back, err)
		}
	}
	var d Distribution
	if err := d.UnmarshalText([]byte("bell")); err == nil {
		t.Error("an unknown shape was taken")
	}
}
