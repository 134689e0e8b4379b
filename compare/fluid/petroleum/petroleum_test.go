package petroleum_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/fluid/petroleum"
	"bridlewatch/compare/quantity"
)

// ranges of ρ60 by group, kg/m3 (API MPMS 11.1-2004).
var ranges = []struct {
	name      string
	group     petroleum.Group
	low, high float64
	alpha     float64
}{
	{"crude", petroleum.Crude, 610.6, 1163.5, 0},
	{"refined", petroleum.Refined, 610.6, 1163.5, 0},
	{"special", petroleum.Special, 610.6, 1163.5, 500e-6},
	{"lubricating", petroleum.Lubricating, 800.9, 1163.5, 0},
}

func degF(v float64) quantity.Temperature { return quantity.Temperature((v + 459.67) / 1.8) }

// From base to alternate conditions and back is where one started, over the
// whole range of every group. At the upper border of the transition group
// the expansion jumps, so that two base densities can lead to one observed
// density; there it is enough that the density comes back.
func TestObservedInvertsFactors(t *testing.T) {
	for _, r := range ranges {
		t.Run(r.name, func(t *testing.T) {
			source := rand.New(rand.NewPCG(11, 2004))
			ambiguous := 0
			for range 3000 {
				rho60 := r.low + (r.high-r.low)*source.Float64()
				at := degF(-58 + 360*source.Float64())
				gauge := quantity.PressureDifference(1500 * 6894.757 * source.Float64())
				oil, err := petroleum.New(r.group, quantity.Density(rho60), degF(60), r.alpha)
				if err != nil {
					t.Fatal(err)
				}
				rho, err := oil.Density(at, gauge)
				if err != nil {
					t.Fatal(err)
				}
				back, err := petroleum.Observed(r.group, rho, at, gauge, r.alpha)
				if err != nil {
					ambiguous++ // outside the observed range, or on a border
					continue
				}
				again, err := back.Density(at, gauge)
				if err != nil || math.Abs(float64(again-rho)) > 1e-6 {
					t.Fatalf("ρ60 %v at %v K, %v Pa: observed %v came back as %v (%v)", rho60, at, gauge, rho, again, err)
				}
			}
			if ambiguous > 60 {
				t.Errorf("%d of 3000 states were refused on the way back", ambiguous)
			}
		})
	}
}

// Density falls with temperature and rises with pressure and base density.
func TestMonotony(t *testing.T) {
	for _, r := range ranges {
		t.Run(r.name, func(t *testing.T) {
			for rho60 := r.low + 1; rho60 < r.high; rho60 += 25 {
				oil, err := petroleum.New(r.group, quantity.Density(rho60), degF(60), r.alpha)
				if err != nil {
					t.Fatal(err)
				}
				last := math.Inf(1)
				for F := -58.0; F <= 302; F += 4 {
					low, err1 := oil.Density(degF(F), 0)
					high, err2 := oil.Density(degF(F), 50e5)
					if err1 != nil || err2 != nil {
						t.Fatal(err1, err2)
					}
					if float64(low) >= last {
						t.Errorf("ρ60 %v: density does not fall at %v °F", rho60, F)
					}
					if high <= low {
						t.Errorf("ρ60 %v: density does not rise with pressure at %v °F", rho60, F)
					}
					last = float64(low)
				}
			}
		})
	}
}

// The four parts of group B meet without a jump of consequence: the standard
// joins fuels and transition to 1e-4 in CTL over the whole range.
func TestRefinedBordersAreContinuous(t *testing.T) {
	for _, border := range []float64{838.3127, 787.5195, 770.3520} {
		for F := -58.0; F <= 302; F += 20 {
			below, err1 := petroleum.New(petroleum.Refined, quantity.Density(border-1e-7), degF(60), 0)
			above, err2 := petroleum.New(petroleum.Refined, quantity.Density(border), degF(60), 0)
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			f1, err1 := below.Factors(degF(F), 0)
			f2, err2 := above.Factors(degF(F), 0)
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			if jump := math.Abs(f1.CTL/f2.CTL - 1); jump > 1e-4 {
				t.Errorf("at %v kg/m3 and %v °F CTL jumps by %.1e", border, F, jump)
			}
		}
	}
}

func TestNegativeGaugePressureCountsAsZero(t *testing.T) {
	oil, err := petroleum.New(petroleum.Crude, 850, degF(60), 0)
	if err != nil {
		t.Fatal(err)
	}
	f, err := oil.Factors(degF(100), -3e4)
	if err != nil || f.CPL != 1 {
		t.Errorf("CPL %v, %v; want 1", f.CPL, err)
	}
}

// The base density itself comes back at its own base temperature.
func TestBaseDensityComesBack(t *testing.T) {
	for _, base := range []quantity.Temperature{degF(60), quantity.FromCelsius(15), quantity.FromCelsius(20)} {
		oil, err := petroleum.New(petroleum.Refined, 745, base, 0)
		if err != nil {
			t.Fatal(err)
		}
		rho, err := oil.BaseDensity(base)
		if err != nil || math.Abs(float64(rho)-745) > 1e-4 {
			t.Errorf("base at %v K: %v, %v", base, rho, err)
		}
	}
}

func TestRefusals(t *testing.T) {
	tests := []struct {
		name string
		try  func() error
	}{
		{"group C without expansion", func() error { _, err := petroleum.New(petroleum.Special, 800, degF(60), 0); return err }},
		{"group C per degree Celsius times two", func() error { _, err := petroleum.New(petroleum.Special, 800, degF(60), 1.5e-3); return err }},
		{"no group", func() error { _, err := petroleum.New(0, 800, degF(60), 0); return err }},
		{"not a number", func() error {
			_, err := petroleum.New(petroleum.Crude, quantity.Density(math.NaN()), degF(60), 0)
			return err
		}},
		{"lpg too light", func() error { _, err := petroleum.NewLPG(0.3499); return err }},
		{"lpg too heavy", func() error { _, err := petroleum.NewLPG(0.69); return err }},
		{"lpg too hot", func() error { l, _ := petroleum.NewLPG(0.6); _, err := l.Density(quantity.FromCelsius(94)); return err }},
		{"ethane above its critical temperature", func() error {
			l, _ := petroleum.NewLPG(0.356)
			_, err := l.Density(quantity.FromCelsius(40))
			return err
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var rangeError *quantity.RangeError
			if err := tt.try(); !errors.As(err, &rangeError) {
				t.Errorf("got %v, want a *RangeError", err)
			}
		})
	}
}

func TestParseGroup(t *testing.T) {
	for letter, want := range map[string]petroleum.Group{"A": petroleum.Crude, "b": petroleum.Refined, "C": petroleum.Special, "D": petroleum.Lubricating} {
		if got, err := petroleum.ParseGroup(letter); err != nil || got != want {
			t.Errorf("%q is %v, %v", letter, got, err)
		}
	}
	if _, err := petroleum.ParseGroup("E"); err == nil {
		t.Error(`group "E" accepted`)
	}
}

// Liquefied gas: one at 60 °F, falling with temperature, continuous where the
// pair of reference fluids changes.
func TestLPGIdentities(t *testing.T) {
	for rd := 0.41; rd < 0.688; rd += 0.0137 {
		l, err := petroleum.NewLPG(rd)
		if err != nil {
			t.Fatal(err)
		}
		if ctl, err := l.CTL(degF(60)); err != nil || math.Abs(ctl-1) > 1e-12 {
			t.Errorf("RD %v: CTL at 60 °F is %v, %v", rd, ctl, err)
		}
		last := math.Inf(1)
		for c := -46.0; c <= 60; c += 2 {
			rho, err := l.Density(quantity.FromCelsius(c))
			var rangeError *quantity.RangeError
			if errors.As(err, &rangeError) && c > 50 {
				break // light mixtures are beyond their critical temperature
			}
			if err != nil || float64(rho) >= last {
				t.Errorf("RD %v at %v °C: %v, %v", rd, c, rho, err)
			}
			last = float64(rho)
		}
	}
	for _, border := range []float64{0.429277, 0.470381, 0.507025, 0.562827, 0.584127, 0.624285, 0.631054, 0.657167, 0.664064} {
		below, _ := petroleum.NewLPG(border - 1e-9)
		above, _ := petroleum.NewLPG(border + 1e-9)
		r1, err1 := below.Density(quantity.FromCelsius(25))
		r2, err2 := above.Density(quantity.FromCelsius(25))
		if err1 != nil || err2 != nil || math.Abs(float64(r1-r2)) > 1e-4 {
			t.Errorf("at RD %v density jumps from %v to %v (%v, %v)", border, r1, r2, err1, err2)
		}
	}
}

func BenchmarkOilDensity(b *testing.B) {
	oil, err := petroleum.New(petroleum.Crude, 850, degF(60), 0)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := oil.Density(320, 5e5); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLPGDensity(b *testing.B) {
	l, err := petroleum.NewLPG(0.52)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := l.Density(300); err != nil {
			b.Fatal(err)
		}
	}
}

// Whatever is observed, the base density is in range or the error is of the
// right type.
func FuzzObserved(f *testing.F) {
	f.Add(uint8(2), 787.5195, 300.0, 1e5, 0.0)
	f.Add(uint8(3), 850.0, 320.0, 5e6, 5e-4)
	f.Add(uint8(4), 714.4, 423.0, 1.03e7, 0.0)
	f.Fuzz(func(t *testing.T, group uint8, rho, at, gauge, alpha float64) {
		oil, err := petroleum.Observed(petroleum.Group(group), quantity.Density(rho), quantity.Temperature(at), quantity.PressureDifference(gauge), alpha)
		var rangeError *quantity.RangeError
		switch {
		case errors.As(err, &rangeError):
			return
		case err != nil:
			t.Fatalf("error of another type: %v", err)
		}
		again, err := oil.Density(quantity.Temperature(at), quantity.PressureDifference(gauge))
		if err != nil || math.Abs(float64(again)-rho) > 1e-5 {
			t.Errorf("observed %v comes back as %v, %v", rho, again, err)
		}
	})
}
