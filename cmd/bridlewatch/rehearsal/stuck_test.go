package rehearsal

import (
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/scenario"
)

// A stuck float of any gauge of the plant must be found, with the float first
// among what remains, within the two and a half days that a minute shows at the
// highest speed. A level that passes no switch, or a leg that may be plugged,
// leaves a second possibility open.
func TestStuckFloatIsFoundOnEveryGauge(t *testing.T) {
	onEveryGauge(t, stuck)
}

func stuck(t *testing.T, sheet *datasheet.Sheet, number int) {
	t.Helper()
	fault := scenario.Fault{Gauge: sheet.Tag, Kind: scenario.FloatStuck}
	said, found := "nothing", false
	run(t, sheet, Options{Seed: 1, Faults: []scenario.Fault{fault}}, number, 48*time.Hour, func(_ time.Duration, r *compare.Result) bool {
		for _, f := range r.Findings {
			first := f.Tier == cause.Alert && len(f.Set) > 0 && f.Set[0].Cause == cause.FloatStuck
			if first && (f.Suspect == cause.Float || f.Suspect == cause.Undecided) {
				found = true
			}
			said = f.Sentence
		}
		return !found
	})
	if !found {
		t.Errorf("after two days the last word is: %s", said)
	}
}
