package gauge_test

import (
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// FuzzMeasure feeds any numbers: nothing panics, no result is NaN or infinite,
// a level is between the taps or no number at all, and a compared gap has a
// positive budget.
func FuzzMeasure(f *testing.F) {
	f.Add(0.4, 4000.0, 40e5, 500.0, 470.0, 1100.0, 0.4, uint8(0))
	f.Add(math.NaN(), math.Inf(1), -1.0, 0.0, -5.0, math.NaN(), 1e300, uint8(1))
	f.Add(-1e9, 1e-320, 1e12, 1e6, 1e-9, 1e9, math.Copysign(0, -1), uint8(2))
	f.Add(0.2, 0.8, 3e5, 313.0, 305.0, 1210.0, 0.5, uint8(3))
	sheets := [...]datasheet.Sheet{drum(), solvent(), separator(), caustic()}
	var models [len(sheets)]*gauge.Model
	for i := range sheets {
		models[i] = model(f, sheets[i])
	}
	f.Fuzz(func(t *testing.T, float, transmitter, p, temp, chamber, density, vessel float64, which uint8) {
		m := models[int(which)%len(models)]
		good := func(v float64) quantity.Reading { return quantity.Reading{Value: v, Quality: quantity.Good} }
		in := gauge.Snapshot{
			Float: good(float), Transmitter: good(transmitter), Pressure: good(p), Temperature: good(temp),
			ChamberTemperature: good(chamber), Density: good(density), Vessel: good(vessel),
		}
		out := measured(m, in)
		s := m.Sheet()
		finite(t, &out)
		for name, l := range map[string]*level.Level{"float": &out.Float, "transmitter": &out.Transmitter, "vessel": &out.Vessel, "in vessel": &out.InVessel} {
			u := float64(l.U())
			switch {
			case l.OK() && !(l.Value > 0 && l.Value < s.Chamber.CentreToCentre && u > 0 && !math.IsInf(u, 0)):
				t.Errorf("%s within at %v m, u %v m", name, float64(l.Value), u)
			case !l.OK() && (l.Value != 0 || u != 0):
				t.Errorf("%s %v with a number %v m, u %v m", name, l.Bound, float64(l.Value), u)
			case l.Bound == level.None && l.Reason == quantity.NoReason:
				t.Errorf("%s missing without a reason", name)
			}
		}
		for p, g := range out.Gaps {
			if g.OK && !(g.Budget > 0) || !g.OK && (g.Value != 0 || g.Reason == quantity.NoReason) {
				t.Errorf("%v: %+v", gauge.Pair(p), g)
			}
		}
	})
}

// A Model may be used from several goroutines (meaningful with -race).
func TestConcurrentMeasure(t *testing.T) {
	m := model(t, drum())
	in := half(t, m)
	want := measured(m, in)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 200 {
				if got := measured(m, in); got.Float != want.Float || got.Gaps != want.Gaps {
					t.Errorf("float %+v, want %+v", got.Float, want.Float)
					return
				}
			}
		})
	}
	wg.Wait()
}

// New keeps nothing of the caller's sheet that the caller may still change.
func TestModelKeepsItsOwnSheet(t *testing.T) {
	s := drum()
	m := model(t, s)
	in := half(t, m)
	want := measured(m, in)
	s.Transmitter.LegDensity = 1
	s.Points[0].Elevation = 99
	*s.Chamber.Cooling = 200
	s.Pressure.U = 1e7
	in.Points[0].Value = 1
	if got := measured(m, in); got.Transmitter != want.Transmitter || got.Float != want.Float {
		t.Errorf("changed with the caller's sheet: %+v, want %+v", got.Transmitter, want.Transmitter)
	}
	if m.Sheet().Points[0].Elevation == 99 {
		t.Error("the model's points changed with the caller's sheet")
	}
}

// The level moves with the reading, one way and without a jump.
func TestMonotony(t *testing.T) {
	const seed = 20260118
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 200 {
		sheet := randomSheet(rng, principles[i%len(principles)], []string{"same", "vessel"}[rng.IntN(2)])
		m := model(t, sheet)
		last := gauge.Measurement{}
		for share := 0.1; share < 0.9; share += 0.05 {
			in, err := m.Standing(share)
			if err != nil {
				t.Fatal(err)
			}
			out := measured(m, in)
			if last.Float.OK() && (out.Float.Value <= last.Float.Value || out.Transmitter.Value <= last.Transmitter.Value || out.InVessel.Value <= last.InVessel.Value) {
				t.Fatalf("seed %d, sheet %d, at %v: level did not rise", seed, i, share)
			}
			last = out
		}
	}
}
