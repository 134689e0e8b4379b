package displacer_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/displacer"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

const g = quantity.StandardGravity

// Krishnaswamy and Vijayachitra, Industrial Instrumentation, 2nd ed. 2010,
// example 6.4: displacer of 6000 kg/m3, 8 m long, 5e-4 m2, in water.
func TestVectorsTextbookExample(t *testing.T) {
	report := vectors.NewReport(t, "displacer, Industrial Instrumentation 2nd ed. ex. 6.4")
	d := displacer.Displacer{Mass: 6000 * 5e-4 * 8, Area: 5e-4, Length: 8}
	report.Within(t, "24 kg in air", d.Weight(0, 1000, 0)/g, 24, 1e-12)
	report.Within(t, "20 kg in a full tank", d.Weight(8, 1000, 0)/g, 20, 1e-12)
	for reading, want := range map[float64]float64{23: 2, 22: 4, 21: 6} {
		x, err := d.Depth(reading*g, 1000, 0)
		if err != nil {
			t.Fatal(err)
		}
		report.Within(t, "depth, m", float64(x), want, 1e-12)
	}
}

// instrumentationtools.com, "Displacer level measurement calculations",
// problems 1 and 2, water at 63 lb/ft3 as printed there. (Problem 3 of that
// page contradicts itself.)
func TestVectorsTutorialProblems(t *testing.T) {
	const foot, pound = 0.3048, 0.45359237
	density := func(lbft3 float64) quantity.Density { return quantity.Density(lbft3 * pound / (foot * foot * foot)) }
	t.Run("1: 0.25 ft3 of 490 lb/ft3 half in oil of SG 0.78, 116.36 lb", func(t *testing.T) {
		d := displacer.Displacer{Mass: 0.25 * 490 * pound, Area: 0.25 * foot * foot, Length: foot}
		vectors.Within(t, "lb", d.Weight(0.5*foot, density(0.78*63), 0)/g/pound, 116.36, 5e-3)
	})
	t.Run("2: 0.1 ft3, 49 lb dry, 42.7 lb covered", func(t *testing.T) {
		d := displacer.Displacer{Mass: 49 * pound, Area: 0.1 * foot * foot, Length: foot}
		vectors.Within(t, "dry, lb", d.Weight(0, density(63), 0)/g/pound, 49, 1e-9)
		vectors.Within(t, "covered, lb", d.Weight(foot, density(63), 0)/g/pound, 42.7, 1e-9)
	})
	t.Run("2: radius 1 in makes it 4.587 ft as printed, 4.58366 ft", func(t *testing.T) {
		length := 0.1 / (math.Pi / 144)
		vectors.Within(t, "as printed, ft", length, 4.587, 4e-3)
		vectors.Within(t, "exactly, ft", length, 4.58366, 5e-6)
		d := displacer.Displacer{Area: math.Pi / 144 * foot * foot, Length: quantity.Length(length * foot)}
		vectors.Within(t, "volume, ft3", d.Volume()/(foot*foot*foot), 0.1, 1e-12)
	})
}

// From memory of an open textbook, unverified: 3 in by 24 in, 27 lb dry, liquid
// of 70 lb/ft3: 169.6 in3 and 6.87 lb of buoyancy.
func TestRememberedExample(t *testing.T) {
	const inch, pound = 0.0254, 0.45359237
	d := displacer.Displacer{Mass: 27 * pound, Area: math.Pi / 4 * 9 * inch * inch, Length: 24 * inch}
	liquid := quantity.Density(70 * pound / math.Pow(0.3048, 3))
	vectors.Within(t, "in3", d.Volume()/math.Pow(inch, 3), 169.6, 0.05)
	vectors.Within(t, "lb", 27-d.Weight(d.Length, liquid, 0)/g/pound, 6.87, 5e-3)
}

func TestOffTheDisplacer(t *testing.T) {
	d := displacer.Displacer{Mass: 24, Area: 5e-4, Length: 8}
	var off *displacer.PartlyCoveredError
	if _, err := d.Depth(19*g, 1000, 0); !errors.As(err, &off) || off.Depth <= 8 {
		t.Errorf("lighter than covered: %v", err)
	}
	if _, err := d.Depth(25*g, 1000, 0); !errors.As(err, &off) || off.Depth >= 0 {
		t.Errorf("heavier than dry: %v", err)
	}
	if _, err := d.Depth(22*g, 800, 800); err == nil {
		t.Error("no density difference: no error")
	}
}

func TestIdentities(t *testing.T) {
	const seed = 20260110
	rng := rand.New(rand.NewPCG(seed, 1))
	u := rng.Float64
	for i := range 2000 {
		d := displacer.Displacer{Mass: quantity.Mass(1 + 20*u()), Area: 1e-4 + 3e-3*u(), Length: quantity.Length(0.3 + 3*u())}
		liquid, upper := quantity.Density(500+600*u()), quantity.Density(100*u())
		x := d.Length * quantity.Length(u())
		back, err := d.Depth(d.Weight(x, liquid, upper), liquid, upper)
		if err != nil || math.Abs(float64(back-x)) > 1e-10 {
			t.Fatalf("seed %d, displacer %d: depth %.15g, went in %.15g, %v", seed, i, float64(back), float64(x), err)
		}
		set := quantity.Density(500 + 600*u())
		told := d.Reported(x, set, liquid, upper)
		if byWeight := d.Solve(d.Weight(x, liquid, upper), set, 0); math.Abs(float64(byWeight-told)) > 1e-10 {
			t.Fatalf("seed %d, displacer %d: device reports %.15g, by its weight %.15g", seed, i, float64(told), float64(byWeight))
		}
		if again := d.Corrected(told, set, liquid, upper); math.Abs(float64(again-x)) > 1e-12 {
			t.Fatalf("seed %d, displacer %d: corrected %.15g, went in %.15g", seed, i, float64(again), float64(x))
		}
		s := d.Sensitivity(x, liquid, upper)
		w := d.Weight(x, liquid, upper)
		slope := func(what string, got float64, at func(h float64) quantity.Length) {
			const h = 1e-4
			if n := float64(at(h)-at(-h)) / (2 * h); math.Abs(n-got) > 1e-5*math.Abs(got)+1e-9 {
				t.Errorf("%s: %g, by differences %g", what, got, n)
			}
		}
		slope("dx/dF", s.PerForce, func(h float64) quantity.Length { return d.Solve(w+h, liquid, upper) })
		slope("dx/drho", s.PerLiquid, func(h float64) quantity.Length { return d.Solve(w, liquid+quantity.Density(h), upper) })
		slope("dx/drhov", s.PerUpper, func(h float64) quantity.Length { return d.Solve(w, liquid, upper+quantity.Density(h)) })
		slope("dx/dm", s.PerMass, func(h float64) quantity.Length {
			k := d
			k.Mass += quantity.Mass(h)
			return k.Solve(w, liquid, upper)
		})
		slope("dx/dlnV", s.PerVolume, func(h float64) quantity.Length {
			k := d
			k.Area *= 1 + h
			return k.Solve(w, liquid, upper)
		})
	}
}
