package gauge_test

import (
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
)

// One Measure of a boiler drum with a dp cell (four IF97 densities, two
// slopes) and of a solvent tank with a radar.
func BenchmarkMeasure(b *testing.B) {
	for name, sheet := range map[string]datasheet.Sheet{"water and dp": drum(), "coefficient and radar": solvent()} {
		b.Run(name, func(b *testing.B) {
			m, in := indicated(b, sheet)
			var out gauge.Measurement
			b.ReportAllocs()
			for b.Loop() {
				m.Measure(&in, &out)
			}
			if !out.Gaps[gauge.FloatTransmitter].OK {
				b.Fatalf("nothing compared: %+v", out)
			}
		})
	}
}

func TestMeasureDoesNotAllocate(t *testing.T) {
	for name, sheet := range map[string]datasheet.Sheet{"water and dp": drum(), "coefficient and radar": solvent()} {
		m, in := indicated(t, sheet)
		var out gauge.Measurement
		if n := testing.AllocsPerRun(100, func() { m.Measure(&in, &out) }); n != 0 {
			t.Errorf("%s: %v allocations per Measure", name, n)
		}
	}
}

// indicated is a gauge half full, everything sound.
func indicated(t testing.TB, sheet datasheet.Sheet) (*gauge.Model, gauge.Snapshot) {
	t.Helper()
	m, err := gauge.New(sheet)
	if err != nil {
		t.Fatal(err)
	}
	truth := gauge.Truth{VesselLevel: sheet.Chamber.CentreToCentre / 2}
	if err := m.Settle(&truth); err != nil {
		t.Fatal(err)
	}
	var in gauge.Snapshot
	if err := m.Indicate(&truth, &in); err != nil {
		t.Fatal(err)
	}
	return m, in
}
