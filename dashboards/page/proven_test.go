package page

import (
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/dashboards/units"
)

// A switch has the set point of the data sheet, as on every other page, and says
// of each direction where it goes over.
func TestSwitchIsProvenAboutItsSetPoint(t *testing.T) {
	now := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	proofs := []coverage.Proof{
		{Tag: "LSH-1", From: 0.755, To: 0.755, Rising: true, At: now, Witness: "LI-1"},
		{Tag: "LSH-1", From: 0.745, To: 0.745, At: now, Witness: "LI-1"},
	}
	page := provenPage{OldDays: 180}
	var set units.Set
	page.fill(proofs, set, now)
	page.setPoints([]datasheet.Point{{Tag: "LSH-1", Elevation: 0.75}}, set)
	if len(page.Switches) != 1 {
		t.Fatalf("%+v", page.Switches)
	}
	s := page.Switches[0]
	for _, x := range []struct{ got, want string }{
		{s.Elevation, set.Length(0.75)},
		{s.Rising.Words, "rising at " + set.Length(0.755) + ", against LI-1"},
		{s.Falling.Words, "falling at " + set.Length(0.745) + ", against LI-1"},
	} {
		if !strings.HasPrefix(x.got, x.want) {
			t.Errorf("%q, want %q", x.got, x.want)
		}
	}
}
