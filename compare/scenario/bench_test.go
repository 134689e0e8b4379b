package scenario_test

import (
	"testing"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/scenario"
)

func BenchmarkStep(b *testing.B) {
	for _, row := range []struct {
		name  string
		sheet func() *datasheet.Sheet
	}{{"coefficient and radar", glycol}, {"steam and wet leg", drum}} {
		b.Run(row.name, func(b *testing.B) {
			u, err := scenario.New(row.sheet(), scenario.Options{Process: brisk(), Service: scenario.Harsh(), Seed: 1, Start: start})
			if err != nil {
				b.Fatal(err)
			}
			at := start
			b.ReportAllocs()
			for b.Loop() {
				at = at.Add(time.Minute)
				if _, err := u.Step(at); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
