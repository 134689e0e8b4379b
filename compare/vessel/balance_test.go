package vessel_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/vessel"
	"bridlewatch/testdata/vectors"
)

// boiler is the balance of a drum at saturation with a uniformly colder
// chamber, vapour saturated in both.
func boiler(t *testing.T, bar, chamber float64) vessel.Balance {
	t.Helper()
	p := quantity.Pressure(bar * 1e5)
	l, err1 := water.SaturatedLiquid(p)
	v, err2 := water.SaturatedVapour(p)
	sat, err3 := water.SaturationTemperature(p)
	c, err4 := water.LiquidDensity(min(quantity.FromCelsius(chamber), sat), p)
	for _, err := range []error{err1, err2, err3, err4} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return vessel.Balance{Span: 1, Vessel: l, VesselGas: v, Chamber: c, ChamberGas: v}
}

// k = hc/hv computed with IAPWS-IF97 by an independent program
// (drum_chamber_factor.csv).
func TestVectorsDrumChamberFactor(t *testing.T) {
	report := vectors.NewReport(t, "chamber against drum, IF97 (drum_chamber_factor.csv)")
	for _, row := range vectors.Read(t, "drum_chamber_factor.csv") {
		t.Run(row["P_bar_abs"]+" bar, chamber "+row["T_chamber_C"]+" °C", func(t *testing.T) {
			b := boiler(t, row.Number(t, "P_bar_abs"), row.Number(t, "T_chamber_C"))
			report.Within(t, row["P_bar_abs"]+" bar, "+row["T_chamber_C"]+" °C", b.Factor(), row.Number(t, "k_hc_over_hv"), 1.5e-7)
		})
	}
}

// Levels in chamber and drum, computed from IF97 densities.
func TestDrumCases(t *testing.T) {
	for _, c := range []struct {
		name                string
		bar, chamber, in, v float64
	}{
		{"10 MPa, chamber 211 °C", 100, 211, 0.394347, 0.499993},
		{"4 MPa, chamber 200 °C", 40, 200, 0.300, 0.326275},
		{"1 MPa, chamber 120 °C", 10, 120, 0.250, 0.265981},
		{"16 MPa, chamber 250 °C", 160, 250, 0.400, 0.590235},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := boiler(t, c.bar, c.chamber)
			hv, at := b.InVessel(quantity.Length(c.in))
			if at != level.Within || math.Abs(float64(hv)-c.v) > 6e-7 {
				t.Errorf("hv = %.6f m %v, want %.6f", float64(hv), at, c.v)
			}
			hc, at := b.InChamber(hv)
			if at != level.Within || math.Abs(float64(hc)-c.in) > 1e-12 {
				t.Errorf("and back: hc = %.12f m %v, want %.12f", float64(hc), at, c.in)
			}
		})
	}
}

// Unequal gas in chamber and vessel: exactly 295/680 m.
func TestUnequalGas(t *testing.T) {
	b := vessel.Balance{Span: 1, Vessel: 700, VesselGas: 20, Chamber: 750, ChamberGas: 25}
	hv, at := b.InVessel(0.40)
	if at != level.Within || math.Abs(float64(hv)-295.0/680) > 1e-15 {
		t.Errorf("hv = %.15f m %v, want %.15f", float64(hv), at, 295.0/680)
	}
}

// Control Engineering, 2 September 2014, "Density compensation for steam drum
// levels": at 1310 psig water boils at 580 °F, steam is 5 % as dense as water
// at 100 °F, and a drum full to a tap 50 in above the lower one shows over
// 13 in of differential. The article's 73 % for the water is wrong: IF97 gives
// 70.5 % and 14.75 in, which both keep the article's "over 13 in".
func TestPublishedDrum(t *testing.T) {
	p := quantity.Pressure((1310 + 14.696) * 6894.757)
	sat, err := water.SaturationTemperature(p)
	if err != nil {
		t.Fatal(err)
	}
	if f := sat.Celsius()*1.8 + 32; math.Abs(f-580) > 0.5 {
		t.Errorf("boils at %.2f °F, published 580", f)
	}
	cold, _ := water.LiquidDensity(quantity.FromCelsius((100-32)/1.8), p)
	l, _ := water.SaturatedLiquid(p)
	v, _ := water.SaturatedVapour(p)
	if r := float64(v / cold); math.Abs(r-0.05) > 0.005 {
		t.Errorf("steam is %.4f as dense as water at 100 °F, published 0.05", r)
	}
	if r := float64(l / cold); math.Abs(r-0.705) > 0.002 {
		t.Errorf("boiling water is %.4f as dense as water at 100 °F, IF97 0.705", r)
	}
	inches := 50 * float64(cold-l) / float64(cold)
	if inches < 13 || math.Abs(inches-14.75) > 0.005 {
		t.Errorf("full drum shows %.2f in, published over 13, IF97 14.75", inches)
	}
}

// A budget worked by hand with the sensitivities of the package comment:
// 10 MPa, chamber 211 °C, hc 394.347 mm; u(hc) 3 mm, u(ρc) 5, u(ρl) 1,
// u(ρv) 0.5 kg/m³.
func TestBudgetOfDrumLevel(t *testing.T) {
	b := boiler(t, 100, 211)
	hc := quantity.Length(0.394347)
	hv, _ := b.InVessel(hc)
	s := b.OfVessel(hc, hv)
	parts := map[string][2]float64{
		"chamber level":   {3 * s.PerLevel, 3.804},
		"chamber density": {5e3 * s.PerChamber, 3.115},
		"drum density":    {1e3 * -s.PerVessel, 0.790},
		"vapour density":  {0.5e3 * math.Abs(s.PerVesselGas+s.PerChamberGas), 0.083},
	}
	sum := 0.0
	for name, p := range parts {
		sum += p[0] * p[0]
		if math.Abs(p[0]-p[1]) > 6e-4 {
			t.Errorf("%s contributes %.4f mm, want %.3f", name, p[0], p[1])
		}
	}
	if u := math.Sqrt(sum); math.Abs(u-4.980) > 6e-4 {
		t.Errorf("combined %.4f mm, want 4.980", u)
	}
}

func TestBeyondTheTaps(t *testing.T) {
	b := vessel.Balance{Span: 1, Vessel: 700, VesselGas: 20, Chamber: 800, ChamberGas: 20}
	for _, c := range []struct {
		name string
		hc   quantity.Length
		want level.Bound
	}{
		{"at the lower tap", 0, level.BelowLowerTap},
		{"below", -0.1, level.BelowLowerTap},
		{"at the upper tap", 1, level.AboveUpperTap},
		{"above", 1.2, level.AboveUpperTap},
		{"chamber within, vessel above", 0.9, level.AboveUpperTap},
		{"within", 0.5, level.Within},
		{"not a number", quantity.Length(math.NaN()), level.None},
	} {
		t.Run(c.name, func(t *testing.T) {
			h, at := b.InVessel(c.hc)
			if at != c.want || (at != level.Within && h != 0) {
				t.Errorf("InVessel = %v %v, want %v without a number", float64(h), at, c.want)
			}
		})
	}
}

func TestCheck(t *testing.T) {
	good := vessel.Balance{Span: 1, Vessel: 700, Chamber: 800}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	for name, b := range map[string]vessel.Balance{
		"no span":       {Vessel: 700, Chamber: 800},
		"heavy gas":     {Span: 1, Vessel: 700, VesselGas: 700, Chamber: 800},
		"heavy chamber": {Span: 1, Vessel: 700, Chamber: 800, ChamberGas: 900},
		"negative gas":  {Span: 1, Vessel: 700, VesselGas: -1, Chamber: 800},
	} {
		if b.Check() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// The columns weigh the same and the sensitivities are the derivatives, over
// random balances.
func TestIdentities(t *testing.T) {
	const seed = 20260108
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 2000 {
		d := func() quantity.Density { return quantity.Density(400 + 700*rng.Float64()) }
		g := func() quantity.Density { return quantity.Density(100 * rng.Float64()) }
		b := vessel.Balance{Span: quantity.Length(0.2 + 5*rng.Float64()), Vessel: d(), VesselGas: g(), Chamber: d(), ChamberGas: g()}
		hc := b.Span * quantity.Length(rng.Float64())
		hv := b.VesselUnbounded(hc)
		left := float64(b.Chamber)*float64(hc) + float64(b.ChamberGas)*float64(b.Span-hc)
		right := float64(b.Vessel)*float64(hv) + float64(b.VesselGas)*float64(b.Span-hv)
		if math.Abs(left-right) > 1e-11*left {
			t.Fatalf("seed %d, balance %d: columns weigh %.15g and %.15g kg/m²", seed, i, left, right)
		}
		checkSlopes(t, b, hc, hv)
	}
}

func checkSlopes(t *testing.T, b vessel.Balance, hc, hv quantity.Length) {
	t.Helper()
	v, c := b.OfVessel(hc, hv), b.OfChamber(hc, hv)
	slope := func(what string, got float64, at func(b vessel.Balance, h float64) quantity.Length) {
		const h = 1e-4
		if n := float64(at(b, h)-at(b, -h)) / (2 * h); math.Abs(n-got) > 1e-6*math.Abs(got)+1e-9 {
			t.Errorf("%s: %g, by differences %g", what, got, n)
		}
	}
	d := func(h float64) quantity.Density { return quantity.Density(h) }
	slope("dhv/dhc", v.PerLevel, func(b vessel.Balance, h float64) quantity.Length { return b.VesselUnbounded(hc + quantity.Length(h)) })
	slope("dhc/dhv", c.PerLevel, func(b vessel.Balance, h float64) quantity.Length { return b.ChamberUnbounded(hv + quantity.Length(h)) })
	for what, p := range map[string]struct {
		v, c float64
		move func(b *vessel.Balance, h float64)
	}{
		"vessel":      {v.PerVessel, c.PerVessel, func(b *vessel.Balance, h float64) { b.Vessel += d(h) }},
		"vessel gas":  {v.PerVesselGas, c.PerVesselGas, func(b *vessel.Balance, h float64) { b.VesselGas += d(h) }},
		"chamber":     {v.PerChamber, c.PerChamber, func(b *vessel.Balance, h float64) { b.Chamber += d(h) }},
		"chamber gas": {v.PerChamberGas, c.PerChamberGas, func(b *vessel.Balance, h float64) { b.ChamberGas += d(h) }},
	} {
		slope("dhv by "+what, p.v, func(b vessel.Balance, h float64) quantity.Length { p.move(&b, h); return b.VesselUnbounded(hc) })
		slope("dhc by "+what, p.c, func(b vessel.Balance, h float64) quantity.Length { p.move(&b, h); return b.ChamberUnbounded(hv) })
	}
}

func TestSwollen(t *testing.T) {
	h, err := vessel.Swollen(0.8, 0.2)
	if err != nil || math.Abs(float64(h)-1) > 1e-15 {
		t.Errorf("0.8 m with a fifth of bubbles: %v m, %v, want 1 m", float64(h), err)
	}
	for _, a := range []float64{-0.1, 1, math.NaN()} {
		if _, err := vessel.Swollen(0.8, a); err == nil {
			t.Errorf("fraction %v: no error", a)
		}
	}
}
