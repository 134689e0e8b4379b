package density_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/density"
	"bridlewatch/compare/displacer"
	"bridlewatch/compare/dpcell"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

const (
	g   = quantity.StandardGravity
	gas = quantity.Density(20)
)

var cell = dpcell.Cell{Span: 1, Elevation: -0.3, Impulse: 950, Reference: 950}

func dp(h quantity.Length, rho quantity.Density) quantity.PressureDifference {
	return cell.Difference(h, dpcell.Column{Liquid: rho, Gas: gas})
}

func swimmer(t testing.TB) *buoyancy.Float {
	t.Helper()
	f, err := buoyancy.New(0.25, 0.05, 0.25, buoyancy.Hemisphere)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func immersion(t testing.TB, f *buoyancy.Float, rho quantity.Density) quantity.Length {
	t.Helper()
	z, err := f.Immersion(rho, gas)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// The pairs that can see density find the one the readings were made of.
func TestInferFindsWhatTheReadingsWereMadeOf(t *testing.T) {
	const h, rho = quantity.Length(0.62), quantity.Density(765)
	f := swimmer(t)
	indicated := h - immersion(t, f, rho) + immersion(t, f, 800)
	hanging := displacer.Displacer{Mass: 3, Area: 5e-4, Length: 0.8}
	weight := hanging.Weight(h-0.1, rho, gas)
	tests := []struct {
		name string
		a, b density.Witness
	}{
		{"radar and dp", density.Radar(h, 2e-3), density.DP(cell, gas, dp(h, rho), 5)},
		{"float and dp", density.Float(f, 800, gas, indicated, 2e-3), density.DP(cell, gas, dp(h, rho), 5)},
		{"radar and float", density.Radar(h, 0.5e-3), density.Float(f, 800, gas, indicated, 0.5e-3)},
		{"radar and displacer", density.Radar(h, 2e-3), density.Displacer(hanging, 0.1, gas, weight, 0.005)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := density.Infer(tt.a, tt.b, density.Start{Level: 0.4, Density: 850, UDensity: 40})
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(float64(got.Level-h)) > 1e-7 || math.Abs(float64(got.Density-rho)) > 1e-4 {
				t.Errorf("got %v m, %v kg/m3; want %v, %v", got.Level, got.Density, h, rho)
			}
			if !(got.UDensity > 0 && got.ULevel > 0 && math.Abs(got.Correlation) <= 1) {
				t.Errorf("uncertainties %+v", got)
			}
		})
	}
}

// For radar and dp the propagation is simple enough by hand: ρ - ρv = P/(g h),
// u² = (u_P/(g h))² + ((ρ - ρv) u_h/h)².
func TestInferUncertaintyByHand(t *testing.T) {
	const h, rho = quantity.Length(0.5), quantity.Density(820)
	got, err := density.Infer(density.Radar(h, 2e-3), density.DP(cell, gas, dp(h, rho), 10), density.Start{Level: h, Density: rho, UDensity: 50})
	if err != nil {
		t.Fatal(err)
	}
	want := math.Hypot(10/(g*0.5), 800*2e-3/0.5)
	if math.Abs(float64(got.UDensity)/want-1) > 1e-6 {
		t.Errorf("u(ρ) = %v, want %v", got.UDensity, want)
	}
	if math.Abs(float64(got.ULevel)-2e-3) > 1e-9 {
		t.Errorf("u(h) = %v, want that of the radar", got.ULevel)
	}
}

// The uncertainty of radar and dp grows as 1/h towards the lower tap: there is
// one level below which the density is no longer identifiable.
func TestInferStopsNearTheLowerTap(t *testing.T) {
	const rho = quantity.Density(820)
	start := density.Start{Density: rho, UDensity: 25}
	last, refusedAt := math.Inf(1), -1.0
	for mm := 900.0; mm > 5; mm -= 5 {
		h := quantity.Length(mm / 1e3)
		start.Level = h
		got, err := density.Infer(density.Radar(h, 2e-3), density.DP(cell, gas, dp(h, rho), 10), start)
		var not *density.NotIdentifiableError
		switch {
		case errors.As(err, &not):
			if refusedAt < 0 {
				refusedAt = mm
			}
			if got != (density.Estimate{}) || !strings.Contains(err.Error(), "differ too little") {
				t.Fatalf("%v mm: %+v, %v", mm, got, err)
			}
		case err != nil:
			t.Fatal(err)
		case refusedAt > 0:
			t.Fatalf("refused at %v mm, given again at %v mm", refusedAt, mm)
		case last != math.Inf(1) && float64(got.UDensity) <= last:
			t.Fatalf("u(ρ) = %v at %v mm is not above that higher up, %v", got.UDensity, mm, last)
		default:
			last = float64(got.UDensity)
		}
	}
	want := 1e3 * math.Hypot(10/g, 800*2e-3) / 25 // where u(ρ) reaches 25 kg/m3
	if math.Abs(refusedAt-want) > 5 {
		t.Errorf("refused from %v mm down, want %.0f mm", refusedAt, want)
	}
}

func TestNotIdentifiable(t *testing.T) {
	const h, rho = quantity.Length(0.5), quantity.Density(820)
	other := dpcell.Cell{Span: 1, Elevation: 0.1, Reference: gas, Impulse: gas}
	full := displacer.Displacer{Mass: 9, Area: 5e-4, Length: 1}
	f := swimmer(t)
	tests := []struct {
		name string
		a, b density.Witness
		says string
	}{
		{"two dp cells", density.DP(cell, gas, dp(h, rho), 5), density.DP(other, gas, other.Difference(h, dpcell.Column{Liquid: rho, Gas: gas}), 5), "in the same way"},
		{"dp and a displacer from tap to tap", density.DP(cell, gas, dp(h, rho), 5), density.Displacer(full, 0, gas, full.Weight(h, rho, gas), 0.01), "in the same way"},
		{"two radars", density.Radar(h, 1e-3), density.Radar(h, 1e-3), "in the same way"},
		{"a float read too roughly", density.Radar(h, 5e-3), density.Float(f, 800, gas, h, 5e-3), "differ too little"},
		{"a zero error that looks like twice the density", density.Radar(0.1, 1e-3), density.DP(cell, gas, dp(0.5, 900), 5), "impossible density"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := density.Infer(tt.a, tt.b, density.Start{Level: h, Density: rho, UDensity: 20})
			var not *density.NotIdentifiableError
			if !errors.As(err, &not) || got != (density.Estimate{}) {
				t.Fatalf("got %+v, %v; want a *NotIdentifiableError and no number", got, err)
			}
			if !strings.Contains(err.Error(), tt.says) {
				t.Errorf("message %q does not say %q", err, tt.says)
			}
		})
	}
}

// The linear propagation against 20,000 trials with a fixed seed.
func TestInferAgainstTrials(t *testing.T) {
	const h, rho = quantity.Length(0.6), quantity.Density(780)
	source := rand.New(rand.NewPCG(101, 2008))
	start := density.Start{Level: h, Density: rho, UDensity: 60}
	linear, err := density.Infer(density.Radar(h, 2e-3), density.DP(cell, gas, dp(h, rho), 12), start)
	if err != nil {
		t.Fatal(err)
	}
	sum, square := 0.0, 0.0
	const trials = 20000
	for range trials {
		radar := h + quantity.Length(2e-3*source.NormFloat64())
		pressure := dp(h, rho) + quantity.PressureDifference(12*source.NormFloat64())
		got, err := density.Infer(density.Radar(radar, 2e-3), density.DP(cell, gas, pressure, 12), start)
		if err != nil {
			t.Fatal(err)
		}
		d := float64(got.Density - rho)
		sum, square = sum+d, square+d*d
	}
	s := math.Sqrt(square/trials - sum/trials*sum/trials)
	if math.Abs(s/float64(linear.UDensity)-1) > 0.02 {
		t.Errorf("trials scatter by %v kg/m3, the linear propagation says %v", s, linear.UDensity)
	}
}

// JCGM 100:2008, H.3, calibration of a thermometer: without noise of the level
// a track is that straight line. Temperature less 20 °C stands for the level,
// the correction for the pressure difference.
func TestVectorsTrackIsTheLineOfTheGUM(t *testing.T) {
	report := vectors.NewReport(t, "JCGM 100:2008, H.3, straight line by density.Track")
	temperature := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	correction := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	var k density.Track
	for i := range temperature {
		k = k.Add(quantity.Length(temperature[i]-20), quantity.PressureDifference(correction[i]))
	}
	line, err := k.Line(0, 0, density.Noise{}, quantity.Density(math.Inf(1)))
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name      string
		got, want float64
	}{
		{"intercept", float64(line.Zero), -0.171203790},
		{"u(intercept)", float64(line.UZero), 0.002877598},
		{"slope", float64(line.Density) * g, 0.002182697740},
		{"u(slope)", float64(line.UDensity) * g, 0.000667938738},
		{"correlation", line.Correlation, -0.930430},
		{"scatter", float64(line.Scatter), 0.003497564},
	}
	for _, tt := range tests {
		t.Run("GUM H.3 "+tt.name, func(t *testing.T) {
			if report.Relative(tt.name, tt.got, tt.want) > 1e-6 {
				t.Errorf("got %.9g, want %.9g", tt.got, tt.want)
			}
		})
	}
}

// A moving level tells density and zero apart; noise of the level does not
// flatten the line, and the stated uncertainties are those of the results.
func TestTrackUnderNoise(t *testing.T) {
	const rho, zero = 760.0, 150.0
	noise := density.Noise{Level: 4e-3, Pressure: 15}
	source := rand.New(rand.NewPCG(3, 14))
	var densities, zeros []float64
	var stated density.Line
	for range 400 {
		var k density.Track
		for i := range 60 {
			h := 0.35 + 0.1*math.Sin(float64(i)/7)
			p := g*((rho-float64(gas))*h+float64(gas)*1) + zero
			k = k.Add(quantity.Length(h+float64(noise.Level)*source.NormFloat64()),
				quantity.PressureDifference(p+float64(noise.Pressure)*source.NormFloat64()))
		}
		line, err := k.Line(1, gas, noise, 50)
		if err != nil {
			t.Fatal(err)
		}
		densities, zeros, stated = append(densities, float64(line.Density)), append(zeros, float64(line.Zero)), line
	}
	check := func(what string, values []float64, want, u float64) {
		mean, s := moments(values)
		if math.Abs(mean-want) > 4*s/math.Sqrt(float64(len(values))) {
			t.Errorf("%s: mean %v ± %v, want %v", what, mean, s/math.Sqrt(float64(len(values))), want)
		}
		if math.Abs(s/u-1) > 0.25 {
			t.Errorf("%s scatters by %v, stated is %v", what, s, u)
		}
	}
	check("density", densities, rho, float64(stated.UDensity))
	check("zero", zeros, zero, float64(stated.UZero))
}

func moments(v []float64) (mean, s float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		s += (x - mean) * (x - mean) / float64(len(v)-1)
	}
	return mean, math.Sqrt(s)
}

func TestTrackStopsWhereTheLevelRests(t *testing.T) {
	noise := density.Noise{Level: 2e-3, Pressure: 10}
	tests := []struct {
		name string
		move float64 // m, half the stroke
		n    int
		says string
	}{
		{"at rest", 0, 50, "not moved by more than its own noise"},
		{"a small stroke", 0.006, 20, "has moved only"},
		{"too few", 0.3, 4, "at least 5"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var k density.Track
			for i := range tt.n {
				h := 0.5 + tt.move*math.Sin(float64(i))
				k = k.Add(quantity.Length(h), quantity.PressureDifference(g*800*h))
			}
			line, err := k.Line(1, gas, noise, 25)
			var not *density.NotIdentifiableError
			if !errors.As(err, &not) || line != (density.Line{}) || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got %+v, %v; want a *NotIdentifiableError that says %q", line, err, tt.says)
			}
		})
	}
}

// Whatever the readings, the answer is a density near the start or the error
// that says why not.
func FuzzInfer(f *testing.F) {
	f.Add(0.5, 4000.0, 0.4, 850.0)
	f.Add(-1.0, 0.0, 0.0, 1.0)
	f.Add(0.001, 1e9, 2.0, 5000.0)
	f.Fuzz(func(t *testing.T, radar, pressure, level, rho float64) {
		got, err := density.Infer(density.Radar(quantity.Length(radar), 2e-3), density.DP(cell, gas, quantity.PressureDifference(pressure), 10),
			density.Start{Level: quantity.Length(level), Density: quantity.Density(rho), UDensity: 30})
		var not *density.NotIdentifiableError
		switch {
		case errors.As(err, &not) && got == density.Estimate{}:
		case err != nil:
			t.Errorf("%+v, error of another type: %v", got, err)
		case !(float64(got.Density) > 0.3*rho && float64(got.Density) < 3*rho && got.UDensity < 30 && math.Abs(got.Correlation) <= 1+1e-9):
			t.Errorf("got %+v", got)
		}
	})
}
