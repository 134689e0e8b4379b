package gauge_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// What is remembered changes no bit of a result: readings that stand, move,
// fail and come back.
func TestMemoryChangesNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	sheets := []*gauge.Model{model(t, drum()), model(t, drumWithThermometer()), model(t, solvent()), model(t, separator()), model(t, caustic())}
	var memory, many gauge.Memory
	many.KeepMany()
	for _, m := range sheets {
		in := half(t, m)
		steps := in.Pressure.Value
		for i := range 400 {
			if i > 200 { // as a register counts: the same pressures again and again
				in.Pressure.Value = steps * (1 + 1e-4*float64(rng.IntN(100)))
			}
			if i > 300 { // and only those: what is remembered is met again
				in = half(t, m)
				in.Pressure.Value = steps * (1 + 1e-4*float64(rng.IntN(100)))
				in.Transmitter.Value *= rng.Float64()
			}
			for _, r := range []*quantity.Reading{&in.Pressure, &in.Temperature, &in.ChamberTemperature, &in.Density, &in.Float, &in.Transmitter} {
				switch rng.IntN(8 + i/300*100) {
				case 0:
					r.Value = math.Nextafter(r.Value, math.Inf(1))
				case 1:
					r.Value *= 1 + 1e-3*rng.NormFloat64()
				case 2:
					r.Quality = quantity.Quality(rng.IntN(5))
				}
			}
			var fresh gauge.Measurement
			m.Measure(&in, &fresh)
			for name, of := range map[string]*gauge.Memory{"the last": &memory, "many": &many} {
				var next gauge.Measurement
				m.MeasureNext(&in, of, &next)
				if d := cmp.Diff(fresh, next); d != "" {
					t.Fatalf("%s, scan %d, %s (-found again +remembered):\n%s", m.Sheet().Tag, i, name, d)
				}
			}
		}
	}
}

// A memory of one gauge says nothing of another one that reads the same: what
// the gauges do not share is their data sheet.
func TestMemoryOfAnotherGauge(t *testing.T) {
	lighter, wetter := solvent(), solvent()
	lighter.Fluid.BaseDensity *= 0.9
	wetter.Fluid = datasheet.Fluid{Name: "water", Model: datasheet.Water}
	models := []*gauge.Model{model(t, solvent()), model(t, lighter), model(t, wetter), model(t, solvent())}
	in := half(t, models[0])
	var memory gauge.Memory
	var before gauge.Measurement
	for i, m := range slices.Concat(models, models) {
		var fresh, next gauge.Measurement
		m.Measure(&in, &fresh)
		m.MeasureNext(&in, &memory, &next)
		if d := cmp.Diff(fresh, next); d != "" {
			t.Errorf("gauge %d (-found again +remembered):\n%s", i, d)
		}
		if i%len(models) != 0 && fresh.Liquid == before.Liquid {
			t.Errorf("gauge %d has the liquid of the one before, and the test shows nothing: %v", i, fresh.Liquid)
		}
		before = fresh
	}
}

// A pressure transmitter that says zero absolute gives no density of the gas,
// and no number that is none.
func TestNoPressureAtAll(t *testing.T) {
	m := model(t, solvent())
	in := half(t, m)
	in.Pressure = quantity.Reading{Value: 0, Quality: quantity.Good}
	var out gauge.Measurement
	m.Measure(&in, &out)
	if out.DensityOK || out.Float.Reason != quantity.ConversionFailed || out.Transmitter.U() != 0 {
		t.Errorf("density %v, float %v, transmitter ± %v", out.DensityOK, out.Float.Reason, out.Transmitter.U())
	}
}
