package compare_test

import (
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// One scan a second of a quiet gauge. The detectors alone get a measurement
// that is ready; with physics the conditions either stand from scan to scan or
// move with every one, so that densities are found again each time.
func BenchmarkEvaluate(b *testing.B) {
	sheet := baseSheet()
	model, err := gauge.New(sheet)
	if err != nil {
		b.Fatal(err)
	}
	g, err := compare.New(sheet)
	if err != nil {
		b.Fatal(err)
	}
	for _, k := range []struct {
		name string
		scan func(now time.Time, in *gauge.Snapshot, st *compare.State, r *compare.Result)
	}{
		{"detectors", g.Detect},
		{"with physics, conditions stand", g.EvaluateTo},
		{"with physics, conditions move", func(now time.Time, in *gauge.Snapshot, st *compare.State, r *compare.Result) {
			in.Pressure.Value = float64(sheet.OperatingPressure) + float64(now.Unix()%7)
			g.EvaluateTo(now, in, st, r)
		}},
	} {
		b.Run(k.name, func(b *testing.B) {
			st, now, r := &compare.State{}, began, &compare.Result{}
			in := &gauge.Snapshot{Float: good(.5, now), Transmitter: good(.5, now)}
			in.Points[0], in.Points[1] = good(1, now), good(0, now)
			in.Pressure = good(float64(sheet.OperatingPressure), now)
			model.Measure(in, &r.Measurement)
			b.ReportAllocs()
			for b.Loop() {
				now = now.Add(time.Second)
				for _, reading := range []*quantity.Reading{&in.Float, &in.Transmitter, &in.Pressure} {
					reading.Time = now
				}
				in.Time = now
				k.scan(now, in, st, r)
			}
		})
	}
}
