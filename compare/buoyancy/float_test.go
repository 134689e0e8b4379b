package buoyancy_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

// heads of diameter 1 m. Height and volume follow from the outline alone; the
// crown and knuckle radii of the torispherical ones are from memory of DIN
// 28011, DIN 28013 and ASME BPVC VIII-1 UG-32, the values were checked by
// numerical integration of the outline to 1e-12.
var heads = []struct {
	name           string
	head           buoyancy.Head
	height, volume float64
}{
	{"flat", buoyancy.Flat, 0, 0},
	{"hemisphere, exact", buoyancy.Hemisphere, 0.5, math.Pi / 12},
	{"2:1 ellipsoid, exact", buoyancy.Ellipsoid, 0.25, math.Pi / 24},
	{"Kloepper", buoyancy.Kloepper, 0.19377422517, 0.09896599512},
	{"Korbbogen", buoyancy.Korbbogen, 0.25447273212, 0.13077173352},
	{"ASME flanged and dished, 6 % knuckle", buoyancy.FlangedAndDished, 0.16933761371, 0.08099900429},
}

func TestHeads(t *testing.T) {
	for _, h := range heads {
		t.Run(h.name, func(t *testing.T) {
			f := swimmer(t, 1, 1, 3, h.head)
			if math.Abs(float64(f.HeadHeight())-h.height) > 5e-12 {
				t.Errorf("height %.12f D, want %.11f", float64(f.HeadHeight()), h.height)
			}
			if math.Abs(f.HeadVolume()-h.volume) > 5e-12 {
				t.Errorf("volume %.12f D³, want %.11f", f.HeadVolume(), h.volume)
			}
		})
	}
}

// The volume below z is the integral of the cross-section, whatever the shape:
// Simpson's rule over each smooth piece.
func TestVolumeIsIntegralOfArea(t *testing.T) {
	for _, h := range heads {
		t.Run(h.name, func(t *testing.T) {
			f := swimmer(t, 1, 0.05, 0.25, h.head)
			sum, z := 0.0, 0.0
			const n = 200_000
			step := float64(f.Height()) / n
			for range n {
				a, b, c := f.AreaAt(quantity.Length(z)), f.AreaAt(quantity.Length(z+step/2)), f.AreaAt(quantity.Length(z+step))
				sum += step * (a + 4*b + c) / 6
				z += step
			}
			if rel := math.Abs(sum/f.Volume() - 1); rel > 2e-6 {
				t.Errorf("integral %.12g, volume %.12g m³: relative difference %.1e", sum, f.Volume(), rel)
			}
		})
	}
}

func TestVectorsFloatCases(t *testing.T) {
	report := vectors.NewReport(t, "float immersion, closed forms and numerical integration (float_cases.csv)")
	for _, row := range vectors.Read(t, "float_cases.csv") {
		t.Run(row["case"]+" "+row["how"], func(t *testing.T) {
			r, cyl := row.Number(t, "R_m"), row.Number(t, "L_cyl_m")
			head := buoyancy.Hemisphere
			if row["case"][:2] == "F4" {
				head = buoyancy.Kloepper
			}
			probe := swimmer(t, 1, 2*r, 100*r, head)
			f := swimmer(t, row.Number(t, "mass_kg"), 2*r, cyl+2*float64(probe.HeadHeight()), head)
			z, err := f.Immersion(quantity.Density(row.Number(t, "rho_liquid")), quantity.Density(row.Number(t, "rho_vapour")))
			if err != nil {
				t.Fatal(err)
			}
			report.Within(t, row["case"], float64(z), row.Number(t, "expected_immersion_m"), 1.5e-12)
		})
	}
}

// Volumes of the floats of float_cases.csv.
func TestFloatVolume(t *testing.T) {
	f := swimmer(t, 0.229, 0.05, 0.25, buoyancy.Hemisphere)
	vectors.Within(t, "F1 whole volume, m³", f.Volume(), 4.581489286485e-4, 1e-16)
	vectors.Within(t, "F1 cross-section, m²", f.Area(), 1.963495408494e-3, 1e-15)
	probe := swimmer(t, 1, 0.05, 1, buoyancy.Kloepper)
	k := swimmer(t, 0.229, 0.05, 0.2+2*float64(probe.HeadHeight()), buoyancy.Kloepper)
	vectors.Within(t, "F4 whole volume, m³", k.Volume(), 1.963495408494e-3*0.2+2*0.09896599512*0.05*0.05*0.05, 1e-14)
}

func TestReserve(t *testing.T) {
	f := swimmer(t, 0.229074464324, 0.05, 0.25, buoyancy.Hemisphere)
	r := f.Reserve(800) // case F1b
	vectors.Within(t, "spare mass, kg", float64(r.Mass), 0.137444679, 5e-10)
	vectors.Within(t, "uplift, N", r.Uplift, 1.347872, 5e-7)
	vectors.Within(t, "ratio", r.Ratio, 1.6, 1e-10)
	vectors.Within(t, "sinking density, kg/m³", float64(r.Sinking), 500, 1e-7)
	z, err := f.Immersion(800, 0)
	if err != nil {
		t.Fatal(err)
	}
	vectors.Within(t, "dz/drho, mm per kg/m³", 1e3*f.Sensitivity(z, 800, 0).PerLower, -0.182292, 5e-7)
}

// Published problems on bodies between two liquids.
func TestVectorsTwoLiquids(t *testing.T) {
	t.Run("IIT JEE 1995: cylinder L, a quarter in liquid 2d, rest in d, has 5d/4", func(t *testing.T) {
		const d, length = 500.0, 0.4
		f := swimmer(t, 1, 0.1, length, buoyancy.Flat)
		f = swimmer(t, 1.25*d*f.Volume(), 0.1, length, buoyancy.Flat)
		z, err := f.Immersion(2*d, d)
		if err != nil {
			t.Fatal(err)
		}
		vectors.Within(t, "below the interface, m", float64(z), length/4, 1e-12)
	})
	t.Run("Giancoli 13.40 (statement): 1 dm³, 72 % in water 1000, 28 % in oil 810, weighs 0.9468 kg", func(t *testing.T) {
		d := 2 * math.Sqrt(0.01/math.Pi)
		f := swimmer(t, 0.9468, d, 0.1, buoyancy.Flat)
		z, err := f.Immersion(1000, 810)
		if err != nil {
			t.Fatal(err)
		}
		vectors.Within(t, "in water, m", float64(z), 0.072, 1e-12)
	})
	for _, h := range heads {
		t.Run("F3, mean density half way, symmetric float, "+h.name, func(t *testing.T) {
			f := swimmer(t, 1, 0.05, 0.25, h.head)
			f = swimmer(t, 900*f.Volume(), 0.05, 0.25, h.head)
			z, err := f.Immersion(1000, 800)
			if err != nil {
				t.Fatal(err)
			}
			vectors.Within(t, "half height, m", float64(z), 0.125, 1e-10)
		})
	}
}

func TestShare(t *testing.T) {
	f := swimmer(t, 0.229074464324, 0.05, 0.25, buoyancy.Hemisphere) // mean density 500
	for name, c := range map[string][3]float64{
		"case F1b":               {800, 0, 0.625},
		"half way between two":   {600, 400, 0.5},
		"sinks":                  {450, 300, 200.0 / 150},
		"rises in the upper one": {800, 600, -0.5},
	} {
		vectors.Within(t, name, f.Share(quantity.Density(c[0]), quantity.Density(c[1])), c[2], 1e-9)
	}
}

func TestLayered(t *testing.T) {
	f := swimmer(t, 0.3, 0.05, 0.25, buoyancy.Hemisphere)
	t.Run("no layer: as in one liquid", func(t *testing.T) {
		want, err := f.Immersion(1000, 5)
		if err != nil {
			t.Fatal(err)
		}
		z, err := f.Layered(1000, 800, 5, 0)
		if err != nil {
			t.Fatal(err)
		}
		vectors.Within(t, "immersion, m", float64(z), float64(want), 1e-12)
	})
	t.Run("deep layer: between two liquids", func(t *testing.T) {
		heavy := swimmer(t, 900*f.Volume(), 0.05, 0.25, buoyancy.Hemisphere)
		want, _ := heavy.Immersion(1000, 800)
		z, err := heavy.Layered(1000, 800, 5, 1)
		if err != nil {
			t.Fatal(err)
		}
		vectors.Within(t, "immersion, m", float64(z), float64(want), 1e-12)
	})
	t.Run("light float swims in the layer, above the interface", func(t *testing.T) {
		z, err := f.Layered(1000, 800, 5, 1)
		if err != nil {
			t.Fatal(err)
		}
		in, _ := f.Immersion(800, 5)
		vectors.Within(t, "interface to float, m", float64(z), float64(in)-1, 1e-12)
	})
}

func TestRefusals(t *testing.T) {
	f := swimmer(t, 0.229074464324, 0.05, 0.25, buoyancy.Hemisphere)
	var sunk *buoyancy.SunkError
	if _, err := f.Immersion(499, 0); !errors.As(err, &sunk) || sunk.Liquid != 499 {
		t.Errorf("in 499 kg/m³: %v, want sunk", err)
	}
	var aloft *buoyancy.AloftError
	if _, err := f.Immersion(900, 600); !errors.As(err, &aloft) {
		t.Errorf("in 900 under 600 kg/m³: %v, want aloft", err)
	}
	var layers *buoyancy.StratificationError
	for _, c := range [][2]quantity.Density{{700, 800}, {700, 700}, {700, -1}, {quantity.Density(math.NaN()), 0}} {
		if _, err := f.Immersion(c[0], c[1]); !errors.As(err, &layers) {
			t.Errorf("in %v under %v: %v, want stratification", c[0], c[1], err)
		}
	}
	for _, c := range []struct {
		name            string
		mass, dia, long float64
	}{{"no mass", 0, 0.05, 0.25}, {"no diameter", 1, 0, 0.25}, {"shorter than its heads", 1, 0.05, 0.04}, {"not a number", math.NaN(), 0.05, 0.25}} {
		if _, err := buoyancy.New(quantity.Mass(c.mass), quantity.Length(c.dia), quantity.Length(c.long), buoyancy.Hemisphere); err == nil {
			t.Errorf("%s: no error", c.name)
		}
	}
}

func TestParseHead(t *testing.T) {
	for _, h := range heads {
		got, err := buoyancy.ParseHead(h.head.String())
		if err != nil || got != h.head {
			t.Errorf("%v: parsed as %v, %v", h.head, got, err)
		}
	}
	if _, err := buoyancy.ParseHead("conical"); err == nil {
		t.Error("conical: no error")
	}
}

// Identities over random floats and liquids: DepthOf inverts VolumeBelow,
// immersion grows with mass and shrinks with density, and the sensitivities
// are the derivatives.
func TestIdentities(t *testing.T) {
	const seed = 20260107
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 2000 {
		h := heads[i%len(heads)]
		d := 0.03 + 0.1*rng.Float64()
		probe := swimmer(t, 1, d, 3*d, h.head)
		length := 2*float64(probe.HeadHeight()) + 0.01 + 0.3*rng.Float64()
		vol := swimmer(t, 1, d, length, h.head).Volume()
		liquid := quantity.Density(400 + 900*rng.Float64())
		gas := liquid * quantity.Density(0.2*rng.Float64())
		mean := gas + (liquid-gas)*quantity.Density(0.02+0.96*rng.Float64())
		f := swimmer(t, float64(mean)*vol, d, length, h.head)

		z := quantity.Length(rng.Float64()) * f.Height()
		back, ok := f.DepthOf(f.VolumeBelow(z))
		if !ok || math.Abs(float64(back-z)) > 1e-9*float64(f.Height()) {
			t.Fatalf("seed %d, float %d (%s): DepthOf(VolumeBelow(%.15g)) = %.15g", seed, i, h.name, float64(z), float64(back))
		}
		at, err := f.Immersion(liquid, gas)
		if err != nil {
			t.Fatalf("seed %d, float %d: %v", seed, i, err)
		}
		lift := float64(liquid)*f.VolumeBelow(at) + float64(gas)*(f.Volume()-f.VolumeBelow(at))
		if math.Abs(lift/float64(f.Mass())-1) > 1e-12 {
			t.Fatalf("seed %d, float %d: lift %.15g kg of %.15g kg", seed, i, lift, float64(f.Mass()))
		}
		checkSlopes(t, f, at, liquid, gas)
	}
}

// Units do not matter: a float made larger by a factor swims deeper by the same
// factor, a float and liquids made denser by a factor swim as deep.
func TestInvarianceUnderUnits(t *testing.T) {
	const seed = 20260119
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 300 {
		h := heads[i%len(heads)]
		mass, k := 0.1+0.2*rng.Float64(), 0.01+50*rng.Float64()
		f := swimmer(t, mass, 0.05, 0.26, h.head)
		z, err := f.Immersion(900, 7)
		if err != nil {
			t.Fatal(err)
		}
		larger, err := swimmer(t, mass*k*k*k, 0.05*k, 0.26*k, h.head).Immersion(900, 7)
		if err != nil {
			t.Fatal(err)
		}
		vectors.Within(t, "larger", float64(larger)/k, float64(z), 1e-12)
		denser, err := swimmer(t, mass*k, 0.05, 0.26, h.head).Immersion(quantity.Density(900*k), quantity.Density(7*k))
		if err != nil {
			t.Fatal(err)
		}
		vectors.Within(t, "denser", float64(denser), float64(z), 1e-12)
	}
}

// FuzzDepthOf: any volume inside the float has one depth, and that depth has
// that volume; any other is refused.
func FuzzDepthOf(f *testing.F) {
	f.Add(0.05, 0.25, 0.5, uint8(1))
	f.Add(1e-3, 10.0, 0.0, uint8(3))
	f.Add(2.0, 0.9, 1.0, uint8(5))
	f.Add(0.05, 0.25, math.NaN(), uint8(0))
	f.Fuzz(func(t *testing.T, diameter, length, share float64, head uint8) {
		if !(diameter > 1e-6 && diameter < 1e3) || !(length < 1e4) {
			return
		}
		fl, err := buoyancy.New(1, quantity.Length(diameter), quantity.Length(length), buoyancy.Head(head%6))
		if err != nil {
			return
		}
		v := share * fl.Volume()
		z, ok := fl.DepthOf(v)
		if inside := v >= 0 && v <= fl.Volume(); ok != inside {
			t.Fatalf("volume %v of %v: depth %v, %v", v, fl.Volume(), float64(z), ok)
		}
		if ok && !(math.Abs(fl.VolumeBelow(z)-v) <= 1e-9*fl.Volume()) {
			t.Errorf("volume %v has depth %v, which has volume %v of %v", v, float64(z), fl.VolumeBelow(z), fl.Volume())
		}
	})
}

// A warm float is a float made larger, with the same mass.
func TestGrown(t *testing.T) {
	const seed = 20260121
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 300 {
		h := heads[i%len(heads)]
		mass, k := 0.15+0.15*rng.Float64(), 1+0.02*rng.Float64()
		warm := swimmer(t, mass, 0.05, 0.26, h.head).Grown(k)
		made := swimmer(t, mass, 0.05*k, 0.26*k, h.head)
		z, err := warm.Immersion(900, 7)
		want, err2 := made.Immersion(900, 7)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		vectors.Within(t, "immersion", float64(z), float64(want), 1e-12)
		vectors.Within(t, "volume below", warm.VolumeBelow(z), made.VolumeBelow(want), 1e-15)
		vectors.Within(t, "volume", warm.Volume(), made.Volume(), 1e-15)
		vectors.Within(t, "height", float64(warm.Height()), float64(made.Height()), 1e-15)
		vectors.Within(t, "sinking density", float64(warm.SinkingDensity()), float64(made.SinkingDensity()), 1e-9)
		vectors.Within(t, "share", warm.Share(900, 7), made.Share(900, 7), 1e-12)
		vectors.Within(t, "friction", float64(warm.Friction(0.1, 900, 7)), float64(made.Friction(0.1, 900, 7)), 1e-12)
		a, b := warm.Reserve(900), made.Reserve(900)
		vectors.Within(t, "reserve", a.Ratio, b.Ratio, 1e-12)
		vectors.Within(t, "sinking by reserve", float64(a.Sinking), float64(b.Sinking), 1e-9)
		s, r := warm.Sensitivity(z, 900, 7), made.Sensitivity(want, 900, 7)
		vectors.Within(t, "dz/dm", s.PerMass, r.PerMass, 1e-9)
		vectors.Within(t, "dz/drhoL", s.PerLower, r.PerLower, 1e-12)
		vectors.Within(t, "dz/drhoV", s.PerUpper, r.PerUpper, 1e-12)
	}
	var sunk *buoyancy.SunkError
	warm := swimmer(t, 0.229074464324, 0.05, 0.25, buoyancy.Hemisphere).Grown(1.01)
	if _, err := warm.Immersion(480, 0); !errors.As(err, &sunk) || math.Abs(float64(sunk.Sinking)-500/1.030301) > 1e-6 {
		t.Errorf("warm float in 480 kg/m³: %v", err)
	}
}

func checkSlopes(t *testing.T, f *buoyancy.Float, z quantity.Length, liquid, gas quantity.Density) {
	t.Helper()
	s := f.Sensitivity(z, liquid, gas)
	slope := func(what string, analytic float64, at func(float64) (quantity.Length, error), h float64) {
		up, err1 := at(h)
		down, err2 := at(-h)
		if err1 != nil || err2 != nil {
			return
		}
		numeric := float64(up-down) / (2 * h)
		if math.Abs(numeric-analytic) > 1e-3*math.Abs(analytic)+1e-9 {
			t.Errorf("%s: %g, by differences %g", what, analytic, numeric)
		}
	}
	if z < f.HeadHeight()*1.01 || z > f.Height()-f.HeadHeight()*1.01 {
		return // the slope of a torispherical head has corners
	}
	slope("dz/drhoL", s.PerLower, func(h float64) (quantity.Length, error) { return f.Immersion(liquid+quantity.Density(h), gas) }, 1e-3)
	slope("dz/drhoV", s.PerUpper, func(h float64) (quantity.Length, error) { return f.Immersion(liquid, gas+quantity.Density(h)) }, 1e-3)
	slope("dz/dm", s.PerMass, func(h float64) (quantity.Length, error) {
		g, err := f.Heavier(quantity.Mass(h))
		if err != nil {
			return 0, err
		}
		return g.Immersion(liquid, gas)
	}, 1e-7)
}

func BenchmarkSwims(b *testing.B) {
	f, err := buoyancy.New(0.229, 0.05, 0.25, buoyancy.Hemisphere)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		f.Swims(800, 20)
	}
}

func swimmer(t *testing.T, mass, diameter, length float64, h buoyancy.Head) *buoyancy.Float {
	t.Helper()
	f, err := buoyancy.New(quantity.Mass(mass), quantity.Length(diameter), quantity.Length(length), h)
	if err != nil {
		t.Fatal(err)
	}
	return f
}
