package scenario_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// chances is how many readings a fault of chance is tried on, one a minute.
const chances = 4000

// madeOf is what a fault makes of the reading of an instrument on a level that
// rests: by how much each is changed, mm. A sample that comes again says again
// what was made of it.
func madeOf(t *testing.T, fault string, level float64, of func(*gauge.Snapshot) *quantity.Reading) (changes []float64) {
	t.Helper()
	g := graft(t, glycol(), fault)
	for i := range chances {
		s := sound(glycol(), start.Add(time.Duration(i)*time.Minute), level)
		s.Vessel = s.Float
		again := s
		again.Time = s.Time.Add(time.Second)
		g.Apply(&s)
		if g.Apply(&again); *of(&again) != *of(&s) {
			t.Fatalf("%s: a sample that came again says %v, before %v", fault, *of(&again), *of(&s))
		}
		changes = append(changes, 1e3*of(&s).Value-level)
	}
	return changes
}

func radarOf(s *gauge.Snapshot) *quantity.Reading { return &s.Transmitter }

// The standard deviation of 4000 readings of noise is known within
// 1/sqrt(2*4000) = 1.1 %, their mean within 20 mm / sqrt(4000) = 0.32 mm.
func TestGraftsOfNoise(t *testing.T) {
	for fault, of := range map[string]func(*gauge.Snapshot) *quantity.Reading{
		"transmitter-noisy=20mm":       radarOf,
		"follower-noisy=20mm":          func(s *gauge.Snapshot) *quantity.Reading { return &s.Float },
		"vessel-instrument-noisy=20mm": func(s *gauge.Snapshot) *quantity.Reading { return &s.Vessel },
	} {
		sum, squares := 0.0, 0.0
		for _, d := range madeOf(t, fault, 500, of) {
			sum, squares = sum+d, squares+d*d
		}
		if rms, mean := math.Sqrt(squares/chances), sum/chances; math.Abs(rms-20) > 0.9 || math.Abs(mean) > 1.3 {
			t.Errorf("%s: noise of %.2f mm about %.2f mm", fault, rms, mean)
		}
	}
}

// 5 % of 4000 are 200, with a standard deviation of 14. A wild reading is off by
// 5 to 50 % of the 1000 mm between the taps.
func TestGraftOfWildReadings(t *testing.T) {
	wild := 0
	for _, d := range madeOf(t, "signal-wild=5%", 500, radarOf) {
		if d == 0 {
			continue
		}
		wild++
		if math.Abs(d) < 50 || math.Abs(d) > 500 {
			t.Errorf("a wild reading is off by %.0f mm", d)
		}
	}
	if wild < 145 || wild > 255 {
		t.Errorf("%d of %d readings are wild, want about 200", wild, chances)
	}
}

// Foam comes for every other half hour and lifts by half a sine of 60 mm times
// 0.7, with a scatter of 0.3: on average over such a half hour by
// 60*0.7*2/pi = 26.7 mm. The mean of 2000 readings scatters by
// sqrt((60*0.3)^2/2 + 13^2)/sqrt(2000) = 0.4 mm.
func TestGraftOfFoam(t *testing.T) {
	sum, n := 0.0, 0
	for i, d := range madeOf(t, "radar-foam=60mm", 500, radarOf) {
		if minute := i % 60; minute >= 30 {
			if math.Abs(d) > 1e-6 {
				t.Fatalf("minute %d without foam is off by %.1f mm", i, d)
			}
			continue
		}
		sum, n = sum+d, n+1
	}
	if mean := sum / float64(n); math.Abs(mean-26.7) > 1.6 {
		t.Errorf("foam lifts by %.1f mm on average, want 26.7", mean)
	}
}

// A deposit at 800 mm is seen instead of a level of 500 mm, 300 mm too high, in
// half of the readings; it is drawn anew once in ten, so that it comes or goes
// once in twenty: 200 times in 4000, with a standard deviation of 14. About 400
// draws make its share 0.5 within sqrt(0.25*2/400) = 0.035. A level above the
// deposit is seen as it is.
func TestGraftOfADeposit(t *testing.T) {
	seen, turns, before := 0, 0, false
	for i, d := range madeOf(t, "radar-build-up=800mm", 500, radarOf) {
		deposit := math.Abs(d-300) < 0.1
		if !deposit && math.Abs(d) > 1e-6 {
			t.Fatalf("reading %d is off by %.1f mm, want 0 or 300", i, d)
		}
		if deposit {
			seen++
		}
		if i > 0 && deposit != before {
			turns++
		}
		before = deposit
	}
	if share := float64(seen) / chances; math.Abs(share-0.5) > 0.14 {
		t.Errorf("the deposit is seen in %.2f of the readings, want half", share)
	}
	if turns < 145 || turns > 255 {
		t.Errorf("the deposit comes and goes %d times, want about 200", turns)
	}
	for i, d := range madeOf(t, "radar-build-up=800mm", 850, radarOf) {
		if d != 0 {
			t.Fatalf("reading %d above the deposit is off by %.1f mm", i, d)
		}
	}
}
