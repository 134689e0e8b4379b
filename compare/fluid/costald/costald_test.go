package costald

import (
	"errors"
	"math"
	"strings"
	"testing"

	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

func near(got, want, relative float64) bool { return math.Abs(got/want-1) <= relative }

// Check values of public implementations of the equations (parameters as
// stated there); the first is example 6A2.21 of the API Technical Data Book,
// which rounds to 530.1 kg/m3.
func TestVectorsSaturatedVolume(t *testing.T) {
	report := vectors.NewReport(t, "COSTALD at saturation, check values of public implementations")
	tests := []struct {
		name   string
		l      Liquid
		T      float64
		volume float64 // m3/mol
	}{
		{"propane at 30 degF", Liquid{tc: 369.83333, volume: 0.20008161e-3, omega: 0.1532, molarMass: 0.044097}, 272.03889, 8.315466172295678e-5},
		{"methanol and water, mixing rule", mixed(0.4576), 298, 2.706588773271354e-5},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.l.saturatedVolume(tt.T / tt.l.tc); report.Relative(tt.name, got, tt.volume) > 1e-12 {
				t.Errorf("V = %.15g m3/mol, want %.15g", got, tt.volume)
			}
		})
	}
	t.Run("propane at 30 degF, API Technical Data Book 530.1 kg/m3", func(t *testing.T) {
		rho, err := tests[0].l.Saturated(272.03889)
		if err != nil || math.Abs(float64(rho)-530.1) > 0.3 || !near(float64(rho), 530.3009967969841, 1e-12) {
			t.Errorf("ρ = %v, %v", rho, err)
		}
	})
}

func mixed(x float64) Liquid {
	l, err := Mixture([]Substance{
		{CriticalTemp: 512.58, Volume: 0.117e-3, Omega: 0.559},
		{CriticalTemp: 647.29, Volume: 0.056e-3, Omega: 0.344},
	}, []float64{x, 1 - x})
	if err != nil {
		panic(err)
	}
	return l
}

func TestVectorsRackett(t *testing.T) {
	report := vectors.NewReport(t, "Rackett equation, check value of a public implementation")
	l := Liquid{tc: 369.83, pc: 4.248e6, rackett: 0.2763}
	if got := l.rackettVolume(272.03889 / l.tc); report.Relative("propane at 30 degF", got, 8.299225005462148e-5) > 1e-12 {
		t.Errorf("propane at 30 degF: V = %.10g m3/mol, want 8.299225e-5", got)
	}
}

func TestVectorsCompressed(t *testing.T) {
	report := vectors.NewReport(t, "COSTALD compressed, check value of a public implementation")
	l := Liquid{tc: 466.7, pc: 3.64e6, omega: 0.281}
	if got := l.compress(1.05047e-4, 303/466.7, 9.8e7, 85857.9); report.Relative("at 98 MPa", got, 9.287482879788505e-5) > 1e-12 {
		t.Errorf("V = %.15g m3/mol, want 9.287482879788505e-05", got)
	}
}

// API Technical Data Book, example 6A3.4: 20 % ethane, 80 % n-decane at 160
// degF and 3000 psia, 1.7161446e-4 m3/mol.
func TestVectorsCompressedMixture(t *testing.T) {
	report := vectors.NewReport(t, "API Technical Data Book, example 6A3.4, compressed mixture")
	ethane, err := Lookup("ethane")
	if err != nil {
		t.Fatal(err)
	}
	decane, err := Lookup("n-decane")
	if err != nil {
		t.Fatal(err)
	}
	l, err := Mixture([]Substance{ethane, decane}, []float64{0.2, 0.8})
	if err != nil {
		t.Fatal(err)
	}
	rho, err := l.Density(344.261, 20.684e6)
	if err != nil {
		t.Fatal(err)
	}
	if volume := l.molarMass / float64(rho); report.Relative("ethane and n-decane", volume, 1.7161446e-4) > 1e-3 {
		t.Errorf("V = %.6g m3/mol, want 1.71614e-4 within 0.1 %%", volume)
	}
}

// Normal boiling points (handbook values, from memory) test the saturation
// pressure that compression starts from.
func TestVapourPressure(t *testing.T) {
	tests := []struct {
		name    string
		boiling float64 // K at 101.325 kPa
	}{
		{"propane", 231.1}, {"n-butane", 272.7}, {"n-pentane", 309.2}, {"n-hexane", 341.9}, {"ethane", 184.6}, {"propylene", 225.5},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, err := Lookup(tt.name)
			if err != nil {
				t.Fatal(err)
			}
			l := Pure(s)
			if p := l.vapourPressure(tt.boiling / l.tc); !near(p, 101325, 0.03) {
				t.Errorf("p = %.0f Pa at the normal boiling point", p)
			}
		})
	}
}

// Liquid densities at saturation, handbook values from memory: the whole
// chain from the table of substances.
func TestSubstances(t *testing.T) {
	tests := []struct {
		name    string
		celsius float64
		density float64 // kg/m3
	}{
		{"propane", 25, 492.4}, {"n-butane", 25, 573.0}, {"i-butane", 25, 551.0}, {"n-pentane", 25, 621.0}, {"i-pentane", 25, 614.6},
		{"n-hexane", 25, 655.0}, {"propylene", 25, 505.0}, {"ethane", 0, 403.0}, {"ammonia", 25, 602.8},
		{"ethylene", -103.8, 567.9}, {"1-butene", 25, 588.0}, {"n-heptane", 25, 679.5}, {"n-octane", 25, 698.6}, {"n-nonane", 25, 713.9},
		{"n-decane", 25, 726.3}, {"cyclohexane", 25, 773.9}, {"benzene", 25, 873.6}, {"toluene", 25, 862.2},
		{"carbon dioxide", -20, 1031.7},
		{"benzene", 100, 792.7}, {"toluene", 100, 787.2}, {"n-octane", 100, 634.8}, {"propane", -42.1, 580.9}, {"carbon dioxide", 0, 927.4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, err := Lookup(tt.name)
			if err != nil {
				t.Fatal(err)
			}
			limit := 0.006
			if tt.name == "ammonia" {
				limit = 0.009
			}
			rho, err := Pure(s).Saturated(quantity.FromCelsius(tt.celsius))
			if err != nil || !near(float64(rho), tt.density, limit) {
				t.Errorf("ρ = %.1f, %v; want %v within 0.6 %%", float64(rho), err, tt.density)
			}
			second, err := Pure(s).Rackett(quantity.FromCelsius(tt.celsius))
			if err != nil || !near(float64(second), float64(rho), 0.015) {
				t.Errorf("Rackett says %.1f, COSTALD %.1f", float64(second), float64(rho))
			}
		})
	}
}

func TestIdentities(t *testing.T) {
	for _, s := range substances {
		t.Run(s.Name, func(t *testing.T) {
			l := Pure(s)
			low, high := l.Range()
			last := math.Inf(1)
			for T := low + 1; T < high; T += 3 {
				rho, err := l.Saturated(T)
				if err != nil || float64(rho) >= last {
					t.Fatalf("at %v K: %v, %v", T, rho, err)
				}
				last = float64(rho)
				squeezed, err := l.Density(T, 20e6)
				if err != nil || squeezed <= rho {
					t.Fatalf("at %v K and 20 MPa: %v is not above %v, %v", T, squeezed, rho, err)
				}
				vapour := quantity.Pressure(l.vapourPressure(float64(T) / l.tc))
				joined, err := l.Density(T, vapour*1.000001)
				if err != nil || !near(float64(joined), float64(rho), 1e-6) {
					t.Fatalf("compressed and saturated do not join at %v K: %v, %v, %v", T, joined, rho, err)
				}
			}
			same, err := Mixture([]Substance{s, s}, []float64{0.3, 0.7})
			if err != nil || !near(same.volume, l.volume, 1e-12) || !near(same.tc, l.tc, 1e-12) {
				t.Errorf("a mixture with itself is another liquid: %+v, %v", same, err)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	propane, err := Lookup("Propane")
	if err != nil {
		t.Fatal(err)
	}
	for _, T := range []quantity.Temperature{90, 352, quantity.Temperature(math.NaN())} {
		var rangeError *quantity.RangeError
		if rho, err := Pure(propane).Density(T, 1e6); !errors.As(err, &rangeError) || rho != 0 {
			t.Errorf("at %v K: %v, %v; want a *RangeError", T, rho, err)
		}
	}
	if _, err := Lookup("unobtainium"); err == nil || !strings.Contains(err.Error(), "known are ethane") {
		t.Errorf("got %v", err)
	}
	if _, err := Mixture([]Substance{propane}, []float64{0.9}); err == nil || !strings.Contains(err.Error(), "add up to 0.9") {
		t.Errorf("got %v", err)
	}
	if _, err := Mixture(nil, nil); err == nil {
		t.Error("a mixture of nothing was accepted")
	}
}

func BenchmarkDensity(b *testing.B) {
	propane, err := Lookup("propane")
	if err != nil {
		b.Fatal(err)
	}
	l := Pure(propane)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := l.Density(300, 20e5); err != nil {
			b.Fatal(err)
		}
	}
}
