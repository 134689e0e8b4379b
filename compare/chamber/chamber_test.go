package chamber_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/chamber"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/fluid"
	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

func liquidWater(t *testing.T) fluid.Liquid {
	t.Helper()
	l, err := fluid.New(datasheet.Fluid{Name: "water", Model: datasheet.Water})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// 100 bar, linear from saturation to 100 K below: mean 783.820 by a fine
// integration, 783.791 on four panels, 783.535 on two; 788.703 at the mean
// temperature, 773.197 as mean of the ends. IF97, computed by an independent
// program.
func TestMeanDensity(t *testing.T) {
	l, p := liquidWater(t), quantity.Pressure(100e5)
	sat, err := water.SaturationTemperature(p)
	if err != nil {
		t.Fatal(err)
	}
	profile := chamber.Linear(sat-100, sat, 0.8)
	for _, c := range []struct {
		name   string
		panels int
		want   float64
	}{{"fine", 2000, 783.820}, {"five points", 4, 783.791}, {"three points", 2, 783.535}} {
		t.Run(c.name, func(t *testing.T) {
			rho, err := chamber.MeanDensity(l, p, 0.8, profile, c.panels)
			if err != nil {
				t.Fatal(err)
			}
			vectors.Within(t, "kg/m³", float64(rho), c.want, 6e-4)
		})
	}
	middle, _ := l.Density(sat-50, p)
	vectors.Within(t, "at the mean temperature", float64(middle), 788.703, 6e-4)
	uniform, err := chamber.MeanDensity(l, p, 0.8, chamber.Uniform(sat-50), 2)
	if err != nil || uniform != middle {
		t.Errorf("uniform: %v, %v; want %v", float64(uniform), err, float64(middle))
	}
	if _, err := chamber.MeanDensity(l, p, 0.8, chamber.Linear(sat, sat+100, 0.8), 4); err == nil {
		t.Error("hotter than boiling: no error")
	}
	for _, panels := range []int{0, 1, 3} {
		if _, err := chamber.MeanDensity(l, p, 0.8, profile, panels); err == nil {
			t.Errorf("%d panels: no error", panels)
		}
	}
}

// The fin is at the top temperature above, level at the closed end, and for a
// very long l as warm as its top all the way.
func TestFin(t *testing.T) {
	f := chamber.Fin(293, 523, 1, 0.25)
	vectors.Within(t, "top", float64(f(1)), 523, 1e-9)
	vectors.Within(t, "bottom", float64(f(0)), 293+230/math.Cosh(4), 1e-9)
	vectors.Within(t, "slope at the closed end", float64(f(1e-4)-f(0)), 0, 1e-4)
	vectors.Within(t, "well insulated", float64(chamber.Fin(293, 523, 1, 1e4)(0)), 523, 1e-5)
}

// A 316 chamber of 0.8 m, 230 K above cold: 0.8 · 16.8e-6 · 230 = 3.09 mm.
func TestGrowth(t *testing.T) {
	a, name, err := chamber.Expansion("316L")
	if err != nil || name == "" {
		t.Fatal(a, name, err)
	}
	vectors.Within(t, "mm", chamber.Growth(0.8, a, 293.15, 523.15).Millimetres(), 3.09, 5e-3)
	if _, _, err := chamber.Expansion("wood"); err == nil {
		t.Error("wood: no error")
	}
}

func separation() chamber.Separation {
	return chamber.Separation{
		Span: 1, Heavy: 1000, Light: 800, Gas: 5, HeavyInChamber: 1010, LightInChamber: 815, Interface: 0.4, Total: 1.3,
	}
}

func TestSeparation(t *testing.T) {
	for _, c := range []struct {
		name          string
		border, total quantity.Length
		sight         chamber.Sight
		bound         level.Bound
		want          float64
	}{
		// 1010 i + 815 (1−i) = 1000·0.4 + 800·0.6 = 880
		{"both taps covered", 0.4, 1.3, chamber.SeesInterface, level.Within, 65.0 / 195},
		// (1000·0.4 + 800·0.3 + 5·0.3 − 5)/(1010 − 5)
		{"upper tap in the gas", 0.4, 0.7, chamber.Unidentifiable, level.Within, 636.5 / 1005},
		// (800·0.7 + 5·0.3 − 5)/(815 − 5)
		{"lower tap in the lighter liquid", -0.2, 0.7, chamber.SeesTotal, level.Within, 556.5 / 810},
		{"interface above the upper tap", 1.1, 1.3, chamber.SeesNothing, level.AboveUpperTap, 0},
		{"interface below, total above", -0.1, 1.3, chamber.SeesNothing, level.BelowLowerTap, 0},
		{"all below", -0.5, -0.1, chamber.SeesNothing, level.BelowLowerTap, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := separation()
			s.Interface, s.Total = c.border, c.total
			got, err := s.Stand()
			if err != nil {
				t.Fatal(err)
			}
			if got.Sight != c.sight || got.Bound != c.bound || got.Sentence == "" {
				t.Errorf("%+v, want %v %v", got, c.sight, c.bound)
			}
			vectors.Within(t, "level", float64(got.Level), c.want, 1e-12)
		})
	}
	upside := separation()
	upside.Light = 1100
	if _, err := upside.Stand(); err == nil {
		t.Error("light heavier than heavy: no error")
	}
}

// What "not identifiable" means: two different vessels, one chamber level.
func TestUnidentifiableMeansAmbiguous(t *testing.T) {
	rng := rand.New(rand.NewPCG(20260115, 1))
	for range 200 {
		a := separation()
		a.Gas = 0
		a.Interface = quantity.Length(0.1 + 0.3*rng.Float64())
		a.Total = a.Interface + quantity.Length(0.1+0.2*rng.Float64())
		b := a
		// Less heavy liquid, more light liquid, the same weight.
		b.Interface -= 0.04
		b.Total = b.Interface + (a.Total - a.Interface) + 0.04*quantity.Length(a.Heavy/a.Light)
		x, err1 := a.Stand()
		y, err2 := b.Stand()
		if err1 != nil || err2 != nil || x.Sight != chamber.Unidentifiable || y.Sight != chamber.Unidentifiable {
			t.Fatal(x, y, err1, err2)
		}
		vectors.Within(t, "chamber level of two vessels", float64(x.Level), float64(y.Level), 1e-12)
	}
}

func TestStyles(t *testing.T) {
	for _, name := range []datasheet.ConnectionStyle{datasheet.SideSide, datasheet.SideBottom, datasheet.TopBottom, datasheet.TopSide} {
		s, err := chamber.StyleOf(string(name))
		if err != nil || s.Range == "" || s.Room == "" || s.Watch == "" {
			t.Errorf("%s: %+v, %v", name, s, err)
		}
	}
	if _, err := chamber.StyleOf("diagonal"); err == nil {
		t.Error("diagonal: no error")
	}
}
