package water_test

import (
	"testing"

	"bridlewatch/compare/fluid/water"
	"bridlewatch/compare/quantity"
)

// calls are the functions of the hot path at a state of each kind.
var calls = []struct {
	name string
	call func() error
}{
	{"liquid, region 1", func() error { _, err := water.LiquidDensity(453.15, 4e6); return err }},
	{"steam, region 2", func() error { _, err := water.VapourDensity(553.15, 4e6); return err }},
	{"stable phase, region 1", func() error { _, err := water.Density(453.15, 4e6); return err }},
	{"stable phase, region 2", func() error { _, err := water.Density(553.15, 4e6); return err }},
	{"stable phase, region 3", func() error { _, err := water.Density(640, 21e6); return err }},
	{"boiling liquid", func() error { _, err := water.SaturatedLiquid(4e6); return err }},
	{"saturated steam", func() error { _, err := water.SaturatedVapour(4e6); return err }},
	{"saturation pressure", func() error { _, err := water.SaturationPressure(453.15); return err }},
	{"saturation temperature", func() error { _, err := water.SaturationTemperature(4e6); return err }},
	{"permittivity", func() error { _, err := water.Permittivity(quantity.Density(20), 523.15); return err }},
}

func TestNothingAllocates(t *testing.T) {
	for _, c := range calls {
		t.Run(c.name, func(t *testing.T) {
			if n := testing.AllocsPerRun(100, func() {
				if err := c.call(); err != nil {
					t.Fatal(err)
				}
			}); n != 0 {
				t.Errorf("%v allocations per call", n)
			}
		})
	}
}

func Benchmark(b *testing.B) {
	for _, c := range calls {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := c.call(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
