package gauge_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

var principles = []datasheet.Principle{
	datasheet.Radar, datasheet.DPWet, datasheet.DPDry, datasheet.DPSeals, datasheet.Displacer, datasheet.FloatFollower,
}

// Measure undoes Indicate: whatever the sheet and the state, every instrument
// that is sound gives back the level it was made from.
func TestMeasureInvertsIndicate(t *testing.T) {
	const seed = 20260111
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 3000 {
		p := principles[i%len(principles)]
		chamber := []string{"same", "secondary", "vessel"}[rng.IntN(3)]
		sheet := randomSheet(rng, p, chamber)
		m, err := gauge.New(sheet)
		if err != nil {
			t.Fatalf("seed %d, sheet %d: %v", seed, i, err)
		}
		truth := gauge.Truth{Time: time.Unix(1_700_000_000, 0), VesselLevel: sheet.Chamber.CentreToCentre * quantity.Length(0.15+0.7*rng.Float64())}
		if sheet.Pressure != nil {
			truth.Pressure = bar(5 + 50*rng.Float64())
		}
		if err := m.Settle(&truth); err != nil {
			t.Fatalf("seed %d, sheet %d: %v", seed, i, err)
		}
		var in gauge.Snapshot
		var out gauge.Measurement
		if err := m.Indicate(&truth, &in); err != nil {
			t.Fatalf("seed %d, sheet %d: %v", seed, i, err)
		}
		m.Measure(&in, &out)
		name := string(p) + " in " + chamber
		same(t, seed, i, name+": float", &out.Float, truth.ChamberLevel)
		same(t, seed, i, name+": transmitter", &out.Transmitter, truth.ChamberLevel)
		same(t, seed, i, name+": vessel", &out.Vessel, truth.ChamberLevel)
		same(t, seed, i, name+": in vessel", &out.InVessel, truth.VesselLevel)
		for _, pair := range []gauge.Pair{gauge.FloatTransmitter, gauge.VesselTransmitter, gauge.VesselFloat} {
			if g := out.Gaps[pair]; !g.OK || math.Abs(float64(g.Value)) > 2e-9 || !(g.U > 0) || g.Budget != 2*g.U {
				t.Fatalf("seed %d, sheet %d, %s: gap %v = %+v", seed, i, name, pair, g)
			}
		}
	}
}

func same(t *testing.T, seed, i int, what string, l *level.Level, want quantity.Length) {
	t.Helper()
	if !l.OK() || math.Abs(float64(l.Value-want)) > 1e-9 || !(l.U() > 0) {
		t.Fatalf("seed %d, sheet %d, %s: %.12g m %v (%v) u %.3g, true %.12g m", seed, i, what, float64(l.Value), l.Bound, l.Reason, float64(l.U()), float64(want))
	}
}

// The part booked under the density is the error a wrong density makes: with a
// liquid that is heavier than modelled by one standard uncertainty, every level
// comes out wrong by that part.
func TestDensityPartIsTheErrorItMakes(t *testing.T) {
	const seed = 20260112
	const off = 1e-5
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 1200 {
		p := principles[i%len(principles)]
		chamber := []string{"same", "vessel"}[rng.IntN(2)]
		sheet := randomSheet(rng, p, chamber)
		if sheet.Fluid.Model == datasheet.Measured {
			continue // a densitometer sees the heavier liquid
		}
		sheet.Fluid.RelativeU, sheet.Budget.Density = 0.6*off, 0.8*off // together off
		m, err := gauge.New(sheet)
		if err != nil {
			t.Fatal(err)
		}
		truth := gauge.Truth{VesselLevel: sheet.Chamber.CentreToCentre * quantity.Length(0.2+0.6*rng.Float64()), Composition: 1 + off}
		if err := m.Settle(&truth); err != nil {
			t.Fatal(err)
		}
		var in gauge.Snapshot
		var out gauge.Measurement
		if err := m.Indicate(&truth, &in); err != nil {
			t.Fatal(err)
		}
		m.Measure(&in, &out)
		for name, l := range map[string]*level.Level{"float": &out.Float, "transmitter": &out.Transmitter, "vessel": &out.Vessel} {
			got, part := float64(truth.ChamberLevel-l.Value), l.Parts[level.LiquidDensity]
			if !l.OK() || math.Abs(got-part) > 1e-3*math.Abs(part)+1e-9 {
				t.Errorf("seed %d, sheet %d, %s in %s, %s: density part %.6g µm, error made %.6g µm",
					seed, i, p, chamber, name, 1e6*part, 1e6*got)
			}
		}
	}
}
