package density_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bridlewatch/compare/density"
	"bridlewatch/compare/quantity"
	"bridlewatch/testdata/vectors"
)

const (
	g   = quantity.StandardGravity
	gas = quantity.Density(20)
)

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
