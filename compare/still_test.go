package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// A float that hangs is found although the level only wanders by millimetres.
func TestFloatStuckOnQuietLevel(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := commissioned(t, sheet, 3)
	p.level = func(s float64) float64 { return 500 + 9*math.Sin(2*math.Pi*s/5400) + 4*math.Sin(2*math.Pi*s/2300) }
	p.run(12 * time.Hour)
	if f := p.alerts(); len(f) != 0 {
		t.Fatalf("alert while the float follows: %s", f[0].Sentence)
	}
	p.float = func(_, _ float64) float64 { return 500 }
	p.run(12 * time.Hour)
	f := p.top()
	if f == nil || f.Tier != cause.Alert || f.Symptom != symptom.FloatStill || f.Set[0].Suspect != cause.Float {
		t.Fatalf("after twelve hours: %+v", f)
	}
}
