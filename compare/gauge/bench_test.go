package gauge_test

import (
	"math/rand/v2"
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

func BenchmarkIndicate(b *testing.B) {
	m, in := indicated(b, drum())
	truth := gauge.Truth{ChamberLevel: 0.4, VesselLevel: 0.43}
	b.ReportAllocs()
	for b.Loop() {
		if err := m.Indicate(&truth, &in); err != nil {
			b.Fatal(err)
		}
	}
}

// One trial of the Monte Carlo check is one Measure of a perturbed gauge.
func BenchmarkCheckBudgetTrial(b *testing.B) {
	m, in := indicated(b, drum())
	random := rand.New(rand.NewPCG(1, 2))
	b.ReportAllocs()
	const trials = 1000
	for b.Loop() {
		if _, err := m.CheckBudget(&in, gauge.FloatTransmitter, trials, random); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/trials, "ns/trial")
}

func BenchmarkInferDensity(b *testing.B) {
	m, in := indicated(b, solvent())
	for b.Loop() {
		if _, err := m.InferDensity(&in, gauge.FloatTransmitter); err != nil {
			b.Fatal(err)
		}
	}
}
