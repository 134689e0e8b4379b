package pipe_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"bridlewatch/compare/pipe"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

const (
	inch = 0.0254
	psi  = 6894.757293168
	bar  = 1e5
)

// ASME B36.10M and B36.19M as a public table gives them, millimetres; the bore
// areas follow.
func TestVectorsDimensions(t *testing.T) {
	report := vectors.NewReport(t, "pipe, ASME B36.10M and B36.19M")
	for _, c := range []struct {
		nps, schedule           string
		outer, wall, bore, area float64
	}{
		{"2", "10S", 60.3, 2.77, 54.76, 2355.1},
		{"2", "40S", 60.3, 3.91, 52.48, 2163.1},
		{"2", "80S", 60.3, 5.54, 49.22, 1902.7},
		{"2-1/2", "10S", 73.0, 3.05, 66.90, 3515.1},
		{"2-1/2", "40", 73.0, 5.16, 62.68, 3085.7},
		{"2-1/2", "80", 73.0, 7.01, 58.98, 2732.1},
		{"3", "10S", 88.9, 3.05, 82.80, 5384.6},
		{"3", "STD", 88.9, 5.49, 77.92, 4768.6},
		{"3", "XS", 88.9, 7.62, 73.66, 4261.4},
	} {
		t.Run("NPS "+c.nps+" schedule "+c.schedule, func(t *testing.T) {
			d, err := pipe.Lookup(c.nps, c.schedule)
			if err != nil {
				t.Fatal(err)
			}
			report.Within(t, "outside, mm", d.Outer.Millimetres(), c.outer, 1e-9)
			report.Within(t, "wall, mm", d.Wall.Millimetres(), c.wall, 1e-9)
			report.Within(t, "bore, mm", d.Bore().Millimetres(), c.bore, 1e-9)
			report.Within(t, "bore area, mm²", 1e6*d.BoreArea(), c.area, 0.06)
		})
	}
}

func TestLookupSpellings(t *testing.T) {
	want, err := pipe.Lookup("2-1/2", "40")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range [][2]string{{"2 1/2", "40S"}, {"2.5", "Sch 40"}, {"2½", "STD"}, {`NPS 2-1/2`, "schedule 40"}, {"DN 65", "40"}, {`2-1/2"`, "40"}, {"2-1/2 in", "40"}} {
		if got, err := pipe.Lookup(s[0], s[1]); err != nil || got != want {
			t.Errorf("%q %q: %v, %v", s[0], s[1], got, err)
		}
	}
	for _, s := range [][2]string{{"7", "40"}, {"2", "41"}, {"", ""}} {
		if d, err := pipe.Lookup(s[0], s[1]); err == nil {
			t.Errorf("%q %q: %v, want an error", s[0], s[1], d)
		}
	}
}

// Pipe wall thickness sample calculation by ASME B31.3 (a published
// worksheet): NPS 12, 550 psig, 700 °F, S 16500 psi, E W 1, Y 0.4, c 0.125 in.
func TestVectorsWorkedWall(t *testing.T) {
	report := vectors.NewReport(t, "pipe wall, B31.3 worksheet (printed to 0.001 in)")
	w := pipe.Wall{Outer: 12.75 * inch, Stress: 16500 * psi, Quality: 1, Y: 0.4, Allowance: 0.125 * inch}
	req, err := w.Required(550 * psi)
	if err != nil {
		t.Fatal(err)
	}
	report.Within(t, "t, in", float64(req)/inch, 0.20970, 5e-6)
	report.Within(t, "t_m, in, printed 0.335", float64(req)/inch+0.125, 0.3347, 5e-5)
	ordered, _ := w.Ordered(550 * psi)
	report.Within(t, "ordered, in, printed 0.383 from the rounded 0.335", float64(ordered)/inch, 0.3825, 5e-5)
}

// Bounds of plain pipe, S 20.0 ksi, E W 1, Y 0.4, no allowance, wall less 12.5 %.
func TestBounds(t *testing.T) {
	for _, c := range []struct {
		nps  string
		psig [3]float64
	}{
		{"2", [3]float64{1661, 2377, 3437}},
		{"2-1/2", [3]float64{1506, 2603, 3603}},
		{"3", [3]float64{1230, 2259, 3191}},
	} {
		for i, schedule := range []string{"10S", "40S", "80S"} {
			t.Run("NPS "+c.nps+" schedule "+schedule, func(t *testing.T) {
				d, err := pipe.Lookup(c.nps, schedule)
				if err != nil {
					t.Fatal(err)
				}
				w := pipe.Wall{Outer: d.Outer, Stress: 20000 * psi}
				p, err := w.Bound(d.Wall)
				if err != nil {
					t.Fatal(err)
				}
				vectors.Within(t, "psig", float64(p)/psi, c.psig[i], 0.6)
				back, err := w.Ordered(p)
				if err != nil {
					t.Fatal(err)
				}
				vectors.Within(t, "wall for that pressure, mm", back.Millimetres(), d.Wall.Millimetres(), 1e-9)
			})
		}
	}
}

func TestWallRefusals(t *testing.T) {
	var out *pipe.OutOfRangeError
	w := pipe.Wall{Outer: 0.06, Stress: 100e6}
	if _, err := w.Required(50e6); !errors.As(err, &out) {
		t.Errorf("P/(SE) 0.5: %v", err)
	}
	if _, err := w.Bound(0.02); !errors.As(err, &out) {
		t.Errorf("thick wall: %v", err)
	}
}

// Allowable stresses by ASME B31.3 table A-1, from memory.
func TestStress(t *testing.T) {
	for _, c := range []struct {
		material string
		f, ksi   float64
		as       string
	}{
		{"316", 70, 20, "316"}, {"316", 300, 20, "316"}, {"316", 350, 19.65, "316"}, {"316/316L", 400, 19.3, "316"},
		{"316", 500, 17.9, "316"}, {"316", 800, 15.9, "316"}, {"316L", 300, 16.7, "316L"}, {"304", 500, 17.5, "304"},
		{"A106-B", 400, 20, "A106"}, {"A106-B", 650, 17, "A106"}, {"A106-B", 800, 10.8, "A106"},
	} {
		t.Run(fmt.Sprintf("%s at %g °F", c.material, c.f), func(t *testing.T) {
			s, as, err := pipe.Stress(c.material, quantity.Temperature((c.f+459.67)/1.8))
			if err != nil || as != c.as {
				t.Fatalf("%q, %v; want %q", as, err, c.as)
			}
			vectors.Within(t, "ksi", float64(s)/psi/1e3, c.ksi, 1e-9)
		})
	}
	var out *quantity.RangeError
	if _, _, err := pipe.Stress("316", 900); !errors.As(err, &out) {
		t.Errorf("900 K: %v", err)
	}
	if _, _, err := pipe.Stress("wood", 300); err == nil {
		t.Error("wood: no error")
	}
}

// A published worksheet of Roark's table 35 case 19a: r 6.75 in, t 0.375 in,
// E 29e6 psi, ν 0.29: 1357.29 psi, 3048 ft of water.
func TestVectorsRoark19a(t *testing.T) {
	report := vectors.NewReport(t, "external pressure, Roark table 35 case 19a worksheet")
	s := pipe.Shell{Radius: 6.75 * inch, Wall: 0.375 * inch, E: 29e6 * psi, Nu: 0.29}
	p := float64(s.LongTube()) / psi
	report.Within(t, "psi", p, 1357.29, 5e-3)
	report.Within(t, "ft of water at 64.12 lb/ft3", p*144/64.12, 3048, 0.5)
}

// Ideal shells worked with an independent program, bar.
func TestVectorsShells(t *testing.T) {
	report := vectors.NewReport(t, "ideal shells under external pressure, computed")
	for _, c := range []struct {
		name                         string
		s                            pipe.Shell
		long, mises, trilling, short float64
		lobes                        int
	}{
		{"steel 0.8 mm", pipe.Shell{Radius: 0.0246, Wall: 0.0008, Length: 0.25, E: 193e9, Nu: 0.3}, 18.236, 30.323, 33.640, 31.371, 2},
		{"steel 0.5 mm", pipe.Shell{Radius: 0.02475, Wall: 0.0005, Length: 0.2, E: 193e9, Nu: 0.3}, 4.372, 13.306, 12.867, 12.000, 3},
		{"titanium 0.8 mm", pipe.Shell{Radius: 0.0246, Wall: 0.0008, Length: 0.25, E: 105e9, Nu: 0.34}, 10.208, 16.798, 18.698, 17.437, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			report.Within(t, "long tube", float64(c.s.LongTube())/bar, c.long, 6e-4)
			p, n := c.s.VonMises()
			report.Within(t, "von Mises", float64(p)/bar, c.mises, 6e-4)
			if n != c.lobes {
				t.Errorf("%d lobes, want %d", n, c.lobes)
			}
			report.Within(t, "Windenburg and Trilling", float64(c.s.WindenburgTrilling())/bar, c.trilling, 6e-4)
			report.Within(t, "short tube", float64(c.s.ShortTube())/bar, c.short, 6e-4)
		})
	}
	s := pipe.Shell{Radius: 0.0246, Wall: 0.0008, E: 193e9, Nu: 0.3, Yield: 205e6}
	ideal, practical := s.Sphere()
	report.Within(t, "sphere, ideal", float64(ideal)/bar, 2470.7, 0.06)
	report.Within(t, "sphere, practical minimum", float64(practical)/bar, 745.0, 0.06)
	report.Within(t, "sphere, UG-28(d)", float64(s.SphereAllowable())/bar, 123.5, 0.06)
	report.Within(t, "yield", float64(s.YieldPressure())/bar, 66.67, 6e-3)
}

// Without end effect von Mises is the long tube.
func TestVonMisesOfALongTube(t *testing.T) {
	s := pipe.Shell{Radius: 0.0246, Wall: 0.0008, Length: 1000, E: 193e9, Nu: 0.3}
	p, n := s.VonMises()
	if n != 2 || math.Abs(float64(p/s.LongTube())-1) > 1e-6 {
		t.Errorf("%v Pa with %d lobes, long tube %v Pa", float64(p), n, float64(s.LongTube()))
	}
}

func TestCollapse(t *testing.T) {
	s := pipe.Shell{Radius: 0.0246, Wall: 0.0008, Length: 0.25, E: 193e9, Nu: 0.3, Yield: 205e6}
	c, err := s.Collapse()
	if err != nil || math.Abs(float64(c.Pressure)/bar-30.323) > 6e-4 || c.By != "buckling of the tube between its ends" {
		t.Errorf("%+v, %v", c, err)
	}
	s.Yield = 50e6
	if c, _ := s.Collapse(); c.By != "yield of the wall" {
		t.Errorf("soft wall: %+v", c)
	}
	s.Wall = 0.01
	if _, err := s.Collapse(); err == nil {
		t.Error("thick shell: no error")
	}
}
