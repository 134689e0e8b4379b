package symptom_test

import (
	"math"
	"testing"

	"bridlewatch/compare/symptom"
)

// What another level goes to and fro between readings of a subject: nothing on a
// rise however fast, nearly the height of a swing of about the time between two
// readings, and little for a single wild value.
func TestSwellBetweenReadings(t *testing.T) {
	for _, r := range []struct {
		name        string
		level       func(minute float64) float64
		least, most float64
	}{
		{"a rise of 30 mm a minute", func(m float64) float64 { return 30 * m }, 0, 0},
		{"a tide of 12 h, 1 m", func(m float64) float64 { return 500 * math.Sin(2*math.Pi*m/720) }, 0, 2},
		{"a swing of 17 minutes, 100 mm", func(m float64) float64 { return 50 * math.Sin(2*math.Pi*m/17) }, 40, 100},
		{"a swing of 50 minutes, 100 mm", func(m float64) float64 { return 50 * math.Sin(2*math.Pi*m/50) }, 10, 60},
		{"a wild value at the end", func(m float64) float64 {
			if m == 599 {
				return 3000
			}
			return 0
		}, 0, 4},
	} {
		var s symptom.Swell
		var levels [symptom.Channels]float64
		var known [symptom.Channels]int64
		read := int64(0)
		for i := range int64(600) {
			at := 1_000_000_000 + 60*i
			levels[symptom.TransmitterLevel], known[symptom.TransmitterLevel] = r.level(float64(i)), at
			if i%15 == 0 {
				read = at
			}
			s.Add(at, read, &levels, &known)
		}
		if m := s.Mean[symptom.TransmitterLevel]; m < r.least || m > r.most {
			t.Errorf("%s: %.1f mm to and fro, want %.0f to %.0f", r.name, m, r.least, r.most)
		}
		if m := s.Mean[symptom.VesselLevel]; m != 0 {
			t.Errorf("%s: %.1f mm of a level nobody knows", r.name, m)
		}
	}
}
